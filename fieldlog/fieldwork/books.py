"""Finding records over the stores of a workspace: the team's, one site's, or all of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

from fieldlog.errors import StoreError
from fieldlog.records.base import Record
from fieldlog.records.site import Site
from fieldlog.store.repo import Kept, Repo
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["at_site", "everywhere", "of_team", "site_of"]

R = TypeVar("R", bound=Record)


def of_team(workspace: Workspace, kind: type[R]) -> Repo[R]:
    """The team's records of ``kind``."""
    return Repo(workspace.team, kind)


def at_site(store: Store, kind: type[R]) -> Repo[R]:
    """The records of ``kind`` in one site's store."""
    return Repo(store, kind)


def everywhere(workspace: Workspace, kind: type[R], **equals: object) -> Iterator[tuple[Store, Kept[R]]]:
    """Records of ``kind`` in the team's store and at every site, optionally those with equal fields."""
    for store in (workspace.team, *workspace.sites.values()):
        repo = Repo(store, kind)
        for kept in repo.find(**equals) if equals else repo.all():
            yield store, kept


def site_of(store: Store) -> Site:
    """The site record of a site's store."""
    kept = Repo(store, Site).all()
    if not kept:
        raise StoreError(f"{store.path}: this site's own record is missing", "run 'fieldlog audit'")
    return kept[0].record

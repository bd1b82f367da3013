"""What a site is called: its own record, its name as people compare it, and its folder's slug."""

from __future__ import annotations

import re
import unicodedata

from fieldlog.errors import FieldlogError
from fieldlog.records.site import Site
from fieldlog.store.repo import Repo
from fieldlog.store.store import Store

__all__ = ["plain_name", "same_name", "site_record", "slug"]


def site_record(store: Store) -> Site | None:
    """Return a site store's own record, None where it has not arrived or cannot be read."""
    try:
        kept = Repo(store, Site).get(store.id)
    except FieldlogError:
        return None
    return kept.record if kept else None


def same_name(one: str, other: str) -> bool:
    """Tell whether two names are the same to a person."""
    return plain_name(one) == plain_name(other)


def plain_name(name: str) -> str:
    """Return a name as people compare it: case, width and outer spaces aside."""
    return unicodedata.normalize("NFKC", name).casefold().strip()


def slug(text: str) -> str:
    """Return a name for a folder: small letters, digits and dashes, ``site`` where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or "site"

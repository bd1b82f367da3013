"""Sites: entering a place by hand."""

from __future__ import annotations

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.records.base import first_fault, new_id
from fieldlog.records.site import Site
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["enter_site"]


def enter_site(workspace: Workspace, name: str, *, latitude_deg: float, height_m: float, by: str) -> Store:
    """Make a place with its store. Raises InputError naming what cannot be, RefusedError for a name that is taken."""
    try:
        site = Site(id=new_id(), name=name, latitude_deg=latitude_deg, height_m=height_m)
    except ValidationError as error:
        raise InputError(
            f"site: {first_fault(error)}", "degrees from −90 to 90, metres above sea level"
        ) from None
    return workspace.add_site(site, by=by)

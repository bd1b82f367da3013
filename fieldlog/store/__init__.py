"""Where records rest."""

from fieldlog.store.lines import Change, Revision
from fieldlog.store.persons import Persons
from fieldlog.store.repo import Kept, Repo
from fieldlog.store.shown import Conflict
from fieldlog.store.store import Store
from fieldlog.store.traces import Traces
from fieldlog.store.workspace import Workspace, site_record

__all__ = [
    "Change",
    "Conflict",
    "Kept",
    "Persons",
    "Repo",
    "Revision",
    "Store",
    "Traces",
    "Workspace",
    "site_record",
]

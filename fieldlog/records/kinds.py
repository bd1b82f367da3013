"""Every kind of record there is, found by its table: a new noun is known everywhere once its module is here."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

import fieldlog.records
from fieldlog.records.base import Record

__all__ = ["record_models"]


@cache
def record_models() -> dict[str, type[Record]]:
    """Return every kind of record this fieldlog knows, by table."""
    found = {}
    for module in pkgutil.iter_modules(fieldlog.records.__path__, "fieldlog.records."):
        for value in vars(importlib.import_module(module.name)).values():
            if isinstance(value, type) and issubclass(value, Record) and "table" in vars(value):
                found[value.table] = value
    return found

"""Options of an analysis as a person gave them, checked, with the option named where one is wrong."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.records.base import first_fault
from fieldlog.records.recipe import TraceOptions

__all__ = ["trace_options"]


def trace_options(**given: Any) -> TraceOptions:
    """Return the options; raises InputError naming the first one that is out of its range."""
    try:
        return TraceOptions(**given)
    except ValidationError as error:
        raise InputError(first_fault(error), "see 'fieldlog trace --help'") from None

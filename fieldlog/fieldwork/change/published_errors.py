"""Typical errors that are not the team's own: typed in with a citation, or shipped with their source."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import orjson

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.catalogue import read_shipped
from fieldlog.records.base import new_id
from fieldlog.records.protocol import Direction, Mode
from fieldlog.records.typed_error import TypedError
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "PublishedError",
    "TypicalError",
    "Wanted",
    "published_error",
    "take_away_error",
    "type_in_error",
    "typed_errors",
    "typical_error",
]

Tester = Literal["same", "changed"]
WEIGHT_DOF = 10.0
# Families without an error of their own take that of peak torque, times this.
_LIKE_PEAK_TORQUE = {"peak torque a kilogram": 1.0, "work": 1.0, "power": 1.0, "ratio": math.sqrt(2.0)}


@dataclass(frozen=True)
class TypicalError:
    """A typical error in percent of the measure, and where it comes from."""

    value_pct: float
    source: str


@dataclass(frozen=True)
class Wanted:
    """What a typical error is wanted for."""

    family: str
    region: str
    plan_id: str = ""
    direction: Direction | None = None
    speed_deg_s: float | None = None
    mode: Mode | None = None
    tester: Tester = "same"


@dataclass(frozen=True)
class PublishedError:
    """A typical error in percent of the value or in points, with its source and what it counts for."""

    value: float
    unit: Literal["pct", "points"]
    source: str
    dof: float = WEIGHT_DOF


def published_error(typed: Iterable[TypedError], wanted: Wanted) -> PublishedError | None:
    """The error that fits best: the typed one that says most, else the shipped one, else that of peak torque.

    For a changed tester only a typed one will do; None where there is none.
    """
    found = _typed(typed, wanted) or (_shipped_error(wanted) if wanted.tester == "same" else None)
    if found is None and wanted.family in _LIKE_PEAK_TORQUE:
        times = _LIKE_PEAK_TORQUE[wanted.family]
        peak = Wanted(**{**vars(wanted), "family": "peak torque"})
        base = published_error(typed, peak)
        if base is not None:
            how = "as for peak torque" if times == 1.0 else "√2 × that of peak torque"
            return PublishedError(
                base.value * times, base.unit, f"{how} (common practice): {base.source}", base.dof
            )
    return found


def typed_errors(workspace: Workspace) -> list[Kept[TypedError]]:
    """Every typical error the team typed in."""
    return of_team(workspace, TypedError).all()


def type_in_error(workspace: Workspace, *, by: str, **fields: object) -> Kept[TypedError]:
    """Keep a typical error with its citation. Raises InputError naming the field that is wrong."""
    error = TypedError.from_body({"id": new_id(), **fields})
    same = [kept for kept in typed_errors(workspace) if _about(kept.record) == _about(error)]
    if same:
        raise InputError(
            f"a typical error for this is there already: {same[0].record.value:g} ({same[0].record.citation})",
            "change that one",
        )
    return of_team(workspace, TypedError).save(error, by=by)


def take_away_error(workspace: Workspace, kept: Kept[TypedError], *, by: str) -> None:
    """Take a typed-in error away; what it was stays on record."""
    of_team(workspace, TypedError).delete(kept.record.id, by=by, seen=kept.revision)


def typical_error(region: str) -> TypicalError:
    """The shipped typical error of peak torque for a body region, with its source."""
    found = published_error((), Wanted("peak torque", region))
    assert found is not None
    return TypicalError(found.value, found.source)


def _typed(typed: Iterable[TypedError], wanted: Wanted) -> PublishedError | None:
    fitting = [
        error
        for error in typed
        if error.family == wanted.family
        and error.tester == wanted.tester
        and all(own in (None, asked) for own, asked in zip(_about(error)[2:], _asked(wanted), strict=True))
    ]
    if not fitting:
        return None
    best = max(fitting, key=lambda error: (sum(part is not None for part in _about(error)), error.id))
    return PublishedError(best.value, best.unit, best.citation, best.weight_dof)


def _about(error: TypedError) -> tuple[object, ...]:
    return (
        error.family,
        error.tester,
        error.region,
        error.plan_id,
        error.direction,
        error.speed_deg_s,
        error.mode,
    )


def _asked(wanted: Wanted) -> tuple[object, ...]:
    return wanted.region, wanted.plan_id, wanted.direction, wanted.speed_deg_s, wanted.mode


def _shipped_error(wanted: Wanted) -> PublishedError | None:
    of_family = _shipped().get(wanted.family, {})
    regions = (wanted.region, "other", None) if wanted.family == "peak torque" else (wanted.region, None)
    return next((of_family[region] for region in regions if region in of_family), None)


@lru_cache(maxsize=1)
def _shipped() -> dict[str, dict[str | None, PublishedError]]:
    found: dict[str, dict[str | None, PublishedError]] = {}
    for entry in orjson.loads(read_shipped("typical_errors.json"))["errors"]:
        error = PublishedError(entry["value"], entry["unit"], entry["source"])
        found.setdefault(entry["family"], {})[entry["region"]] = error
    return found

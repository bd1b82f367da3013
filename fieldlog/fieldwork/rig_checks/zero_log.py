"""The bare lever's zero before an athlete: kept by one key, and told when it keeps moving."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.rig_checks.tolerance_book import tolerance_sets
from fieldlog.records.bare_zero import BareZero
from fieldlog.records.base import new_id
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.tolerance import Tolerances
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["DRIFTED_IN_A_ROW", "keep_zero", "zero_limit_nm", "zero_words", "zeros_since_check"]

DRIFTED_IN_A_ROW = 3
LARGEST_ZERO_NM = 500.0


def keep_zero(
    store: Store,
    visit: Visit,
    rig_id: str,
    reading_nm: float,
    *,
    at: dt.datetime,
    by: str,
    athlete_id: str | None = None,
) -> Kept[BareZero]:
    """Keep what the display shows with nothing on the lever. Raises InputError for a reading no zero has."""
    if not abs(reading_nm) <= LARGEST_ZERO_NM:
        raise InputError(
            f"a zero of {reading_nm:g} N·m is none", "take everything off the lever and type what is shown"
        )
    zero = BareZero(
        id=new_id(),
        visit_id=visit.id,
        rig_id=rig_id,
        at=at,
        by=by,
        reading_nm=reading_nm,
        athlete_id=athlete_id,
    )
    return at_site(store, BareZero).save(zero, by=by)


def zeros_since_check(store: Store, visit: Visit, rig_id: str, now: dt.datetime) -> list[BareZero]:
    """The zeros of a rig at a visit since its last check there, in order of time."""
    checks = [
        kept.record.at
        for kept in at_site(store, RigCheck).find(visit_id=visit.id, rig_id=rig_id)
        if kept.record.at <= now
    ]
    since = max(checks, default=None)
    zeros = [kept.record for kept in at_site(store, BareZero).find(visit_id=visit.id, rig_id=rig_id)]
    return sorted(
        (zero for zero in zeros if zero.at <= now and (since is None or zero.at > since)),
        key=lambda zero: (zero.at, zero.id),
    )


def zero_words(readings_nm: Sequence[float], limit_nm: float) -> tuple[str, bool]:
    """Return what the zeros since the last check say, and whether an interim check is asked for.

    The first after the check is what the others are held against; one that lies more than ``limit_nm`` away
    has drifted, and three drifted in a row ask for an interim check (common practice). Empty without a zero.
    """
    if not readings_nm:
        return "", False
    moved = [reading - readings_nm[0] for reading in readings_nm]
    in_a_row = 0
    for change in reversed(moved):
        # Readings are decimal numbers: the binary rest of a difference must not decide about a limit.
        if abs(change) <= limit_nm + 1e-9:
            break
        in_a_row += 1
    shown = f"zero {readings_nm[-1]:+.1f} N·m"
    if len(readings_nm) == 1:
        return f"{shown}, the first since the check", False
    said = f"{shown}, moved by {moved[-1]:+.1f} since the check"
    if in_a_row >= DRIFTED_IN_A_ROW:
        return f"{in_a_row} zeros drifted in a row, take an interim check now: {said}", True
    if in_a_row:
        return f"{said}: drifted, {in_a_row} of {DRIFTED_IN_A_ROW} in a row", False
    return said, False


def zero_limit_nm(workspace: Workspace, checks: Sequence[RigCheck]) -> float:
    """By how much a zero may move, in N·m: by the tolerances of the last of ``checks``, else the field set's."""
    if checks:
        return float(checks[-1].judged["tolerance"]["zero_nm"])
    field = tolerance_sets(workspace).get("field")
    return field.limits.zero_nm if field else Tolerances().zero_nm

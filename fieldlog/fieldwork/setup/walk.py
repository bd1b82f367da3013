"""Walking down a plan: each step is on disk before the screen says so, the record is written when it is whole.

The first step is kept as a record at once, because from then on the rig stands otherwise for everybody
else. The steps after it go to a small draft, one file that each step writes anew, and become a revision of
the record when the walk ends or is left. A whole record for every step would write the setup thirty times.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.setup.setups import empty_setup, save_step, setup_of, step_fits
from fieldlog.fieldwork.setup.steps import with_step, without_failed
from fieldlog.records.protocol import Side
from fieldlog.records.setup import Setup, StepTaken, setup_id
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["Walk", "WalkPlace", "go_back", "keep_walk", "take_step", "take_up_walk", "walk_again"]


@dataclass(frozen=True)
class WalkPlace:
    """Whose setup, on which side and plan, at which visit."""

    workspace: Workspace
    store: Store
    visit: Visit
    athlete_id: str
    plan: SetupPlan
    side: Side
    rig_id: str | None = None

    @property
    def draft(self) -> str:
        """Name of the draft of the walk."""
        identity = setup_id(self.visit.id, self.athlete_id, self.side, self.plan.id, self.plan.version)
        return f"setup/{identity}"


@dataclass(frozen=True)
class Walk:
    """How far a walk has come. ``seen`` is the record it goes on from; ``earlier`` the walk one step before."""

    setup: Setup | None
    seen: Kept[Setup] | None
    earlier: Walk | None = None

    @property
    def is_kept(self) -> bool:
        """Whether the record holds all of it."""
        return self.setup is None or (self.seen is not None and self.seen.record == self.setup)


def take_up_walk(place: WalkPlace) -> Walk:
    """Return the walk as it stands: the record, and after a break the steps that were taken since.

    A draft that cannot be read, or that belongs to a record not seen on this laptop, is left out.
    """
    kept = setup_of(place.store, place.visit, place.athlete_id, place.plan, place.side)
    standing = Walk(kept.record if kept else None, kept)
    body = Drafts(place.workspace.path).load(place.draft)
    if body is None:
        return standing
    try:
        setup = Setup.from_body(body["setup"])
        revision = place.store.revision(body["seen"])
        seen = Kept(Setup.from_body(revision.body), revision) if revision and revision.body else None
    except (InputError, KeyError, TypeError, AttributeError):
        return standing
    if seen is None or setup.id != seen.record.id:
        return standing
    # What each step was before it is not in the draft: an undo opens the step that was taken last.
    latest = max(
        (step for step in setup.steps if step.at), key=lambda step: step.at or setup.at, default=None
    )
    steps = tuple(step for step in setup.steps if step != latest)
    return Walk(setup, seen, Walk(setup.model_copy(update={"steps": steps}), seen))


def take_step(place: WalkPlace, walk: Walk, taken: StepTaken, *, by: str, at: dt.datetime) -> Walk:
    """Take one step; it is on disk when this returns.

    Raises InputError where it does not fit the plan, RefusedError where a reading is outside the retest
    tolerance of last time's and no word says why.
    """
    if walk.setup is None:
        kept = save_step(
            place.workspace,
            place.store,
            place.visit,
            athlete_id=place.athlete_id,
            plan=place.plan,
            side=place.side,
            taken=taken,
            by=by,
            at=at,
            rig_id=place.rig_id,
        )
        return Walk(kept.record, kept)
    step_fits(
        place.workspace,
        place.visit,
        athlete_id=place.athlete_id,
        plan=place.plan,
        side=place.side,
        taken=taken,
    )
    return _drafted(place, walk, with_step(walk.setup, place.plan, taken, by=by, at=at))


def go_back(place: WalkPlace, walk: Walk, key: str, *, by: str, at: dt.datetime) -> tuple[Walk, str]:
    """Go back from a step that does not come right; return the walk and the key to go on from."""
    setup = walk.setup or empty_setup(
        place.visit, place.athlete_id, place.plan, place.side, by=by, at=at, rig_id=place.rig_id
    )
    setup, target = without_failed(setup, place.plan, key, by=by, at=at)
    return (_drafted(place, walk, setup) if walk.setup else walk), target


def walk_again(place: WalkPlace, walk: Walk) -> Walk:
    """Take the last step back; the walk before it is on disk when this returns."""
    assert walk.earlier is not None
    earlier = walk.earlier
    if earlier.is_kept:
        Drafts(place.workspace.path).drop(place.draft)
    else:
        _save_draft(place, earlier)
    return earlier


def keep_walk(place: WalkPlace, walk: Walk, *, by: str) -> Kept[Setup] | None:
    """Write the record as far as the walk has come; ``None`` where it holds all of it already.

    The walk before the last step is written first where it is not yet, so that an undo of the record takes
    one step back and not all of them.
    """
    if walk.is_kept or walk.setup is None:
        return None
    repo, seen = at_site(place.store, Setup), walk.seen
    if walk.earlier is not None and walk.earlier.setup is not None and not walk.earlier.is_kept:
        seen = repo.save(walk.earlier.setup, by=by, seen=seen.revision if seen else None)
    why = "; ".join(step.why for step in walk.setup.steps if step.why)
    kept = repo.save(walk.setup, by=by, why=why, seen=seen.revision if seen else None)
    Drafts(place.workspace.path).drop(place.draft)
    return kept


def _drafted(place: WalkPlace, walk: Walk, setup: Setup) -> Walk:
    further = Walk(setup, walk.seen, walk)
    _save_draft(place, further)
    return further


def _save_draft(place: WalkPlace, walk: Walk) -> None:
    assert walk.setup is not None
    assert walk.seen is not None
    body: dict[str, Any] = {"setup": walk.setup.to_body(), "seen": walk.seen.revision.id}
    Drafts(place.workspace.path).save(place.draft, body)

"""Where to start with an athlete who has no setup yet. Always confirmed by eye, never dialled blind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.setup import setups
from fieldlog.fieldwork.setup.dial_in import check_reading, reading_of, reading_text
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import ReadingStep, SetupPlan
from fieldlog.store.workspace import Workspace

__all__ = [
    "CREST_TO_JOINT_CM",
    "LEAST_SETUPS",
    "StartingValue",
    "crest_rule",
    "from_own_setups",
    "starting_today",
    "starting_values",
]

CREST_TO_JOINT_CM = 3.5
"""Height of the iliac crest above the lumbosacral joint; common practice, 1 to 1.5 in."""
CREST_LANDMARK = "L5/S1"
LEAST_SETUPS = 10
# All pairs of setups are compared, so the number of setups is kept to what a screen can wait for.
_MOST_SETUPS = 300

PLATE_KEY, CREST_KEY, AXIS_KEY, LANDMARK_KEY = "foot_plate", "crest_height", "axis_height", "axis_landmark"


@dataclass(frozen=True)
class StartingValue:
    """A reading to start from. ``half_width`` is that of the 95 % interval, ``None`` where there is none."""

    key: str
    reading: float
    half_width: float | None
    setups: int
    text: str
    confirm: str = "a place to start from; confirm by eye"


def crest_rule(
    step: ReadingStep,
    *,
    axis_height_cm: float,
    crest_height_cm: float,
    landmark: str = CREST_LANDMARK,
) -> StartingValue:
    """Return the foot plate's starting value from the crest height: axis − crest + 3.5 cm + scale at floor.

    Both heights are above the floor, the crest's in the shoes of the test. The rule is common practice and
    stated for L5/S1. Raises InputError for another landmark, for a height that is none, and where the
    result is off the scale.
    """
    if landmark != CREST_LANDMARK:
        raise InputError(
            f"{step.label}: the crest rule is stated for {CREST_LANDMARK}, not for {landmark}",
            "set the foot plate by eye",
        )
    for name, height_cm, low_cm, high_cm in (
        ("axis height", axis_height_cm, 40.0, 200.0),
        ("crest height", crest_height_cm, 60.0, 140.0),
    ):
        if not low_cm <= height_cm <= high_cm:
            raise InputError(
                f"{name}: {height_cm:g} cm is outside {low_cm:g} to {high_cm:g} cm",
                "measure again, from the floor",
            )
    plate_cm = axis_height_cm - crest_height_cm + CREST_TO_JOINT_CM
    per_cm = {"cm": 1.0, "mm": 10.0}.get(step.unit)
    if per_cm is None:
        raise InputError(f"{step.label}: the crest rule needs a scale in cm or mm, not in {step.unit}")
    reading = check_reading(step, round(plate_cm * per_cm + (step.at_floor or 0.0), 3))
    floor = "" if step.at_floor is not None else "; the scale is taken to show 0 level with the floor"
    return StartingValue(
        key=step.key,
        reading=reading,
        half_width=None,
        setups=0,
        text=f"{reading_text(step, reading)}, from the crest height (common practice){floor}",
    )


def from_own_setups(
    step: ReadingStep, crest_heights_cm: Sequence[float], readings: Sequence[float], crest_height_cm: float
) -> tuple[StartingValue | None, str]:
    """Return a starting value from the team's own setups, one pair an athlete, or ``None`` and the reason.

    A robust line of reading on crest height with its 95 % prediction interval. Nothing is offered from
    fewer than ten athletes, beyond the heights seen, off the scale, or where the interval is wider than the
    middle 95 % of the team's own readings.
    """
    from fieldlog.analysis.robust_line import fit_robust_line, robust_sd

    n = len(readings)
    if n < LEAST_SETUPS:
        return None, f"{n} of {LEAST_SETUPS} setups on this plan so far"
    try:
        line = fit_robust_line(crest_heights_cm, readings)
    except ValueError as error:
        return None, str(error)
    if not line.low_x <= crest_height_cm <= line.high_x:
        return None, f"crest height is outside the {line.low_x:g} to {line.high_x:g} cm of the own setups"
    reading, half_width = line.predict(crest_height_cm)
    if half_width > 1.96 * robust_sd(readings):
        return None, "the interval is wider than the squad's own spread"
    if not step.low <= reading <= step.high:
        return None, f"{reading_text(step, round(reading, 1))} would be off the scale"
    marks = max(round((reading - step.low) / step.step), 0)
    rounded = min(step.low + marks * step.step, step.high)
    return StartingValue(
        key=step.key,
        reading=round(rounded, 6),
        half_width=half_width,
        setups=n,
        text=f"{_bare(step, rounded)} ± {reading_text(step, float(f'{half_width:.2g}'))}, from {n} setups",
    ), ""


def starting_values(
    workspace: Workspace,
    plan: SetupPlan,
    *,
    crest_height_cm: float,
    axis_height_cm: float | None = None,
    landmark: str = CREST_LANDMARK,
) -> dict[str, StartingValue]:
    """Return the starting values there are for a new athlete, by step key.

    From the team's own setups where these say enough; for the foot plate else by the crest rule, once the
    axis height is read. Raises InputError as :func:`crest_rule` does.
    """
    found: dict[str, StartingValue] = {}
    own = _latest_of_each_athlete(workspace, plan, landmark)
    for step in plan.readings:
        if not step.dialled or step.key == AXIS_KEY:
            continue
        pairs = _pairs(workspace, plan, step, own)
        value, _ = from_own_setups(
            step, [crest for crest, _ in pairs], [reading for _, reading in pairs], crest_height_cm
        )
        if (
            value is None
            and step.key == PLATE_KEY
            and axis_height_cm is not None
            and landmark == CREST_LANDMARK
        ):
            value = crest_rule(step, axis_height_cm=axis_height_cm, crest_height_cm=crest_height_cm)
        if value is not None:
            found[step.key] = value
    return found


def starting_today(
    workspace: Workspace, plan: SetupPlan, setup: Setup | None
) -> tuple[dict[str, StartingValue], str]:
    """Return where to start from what today's setup holds so far, and why the crest rule gives nothing.

    Nothing is offered before the crest height is read. The landmark is the one chosen, L5/S1 until then.
    """
    crest_cm = _body_cm(plan, setup, CREST_KEY)
    if setup is None or crest_cm is None:
        return {}, ""
    chosen = setup.taken(LANDMARK_KEY)
    landmark = (chosen.choice if chosen else None) or CREST_LANDMARK
    axis_cm = _body_cm(plan, setup, AXIS_KEY)
    try:
        return starting_values(
            workspace, plan, crest_height_cm=crest_cm, axis_height_cm=axis_cm, landmark=landmark
        ), ""
    except InputError as error:
        found = starting_values(workspace, plan, crest_height_cm=crest_cm, landmark=landmark)
        return found, str(error)


def _body_cm(plan: SetupPlan, setup: Setup | None, key: str) -> float | None:
    step, reading = plan.step(key), setup.reading(key) if setup else None
    if not isinstance(step, ReadingStep) or reading is None:
        return None
    return {"cm": reading, "mm": reading / 10.0}.get(step.unit)


def _latest_of_each_athlete(workspace: Workspace, plan: SetupPlan, landmark: str) -> list[Setup]:
    latest: dict[str, Setup] = {}
    for _, kept in everywhere(workspace, Setup, plan_id=plan.id):
        setup = kept.record
        chosen = setup.taken(LANDMARK_KEY)
        if setup.reading(CREST_KEY) is None or (chosen and chosen.choice != landmark):
            continue
        if setup.athlete_id not in latest or latest[setup.athlete_id].at < setup.at:
            latest[setup.athlete_id] = setup
    return sorted(latest.values(), key=lambda setup: setup.at)[-_MOST_SETUPS:]


def _pairs(
    workspace: Workspace, plan: SetupPlan, step: ReadingStep, own: Sequence[Setup]
) -> list[tuple[float, float]]:
    pairs = []
    for setup in own:
        setup_plan = setups.plan_of(workspace, setup)
        crest_cm = _body_cm(setup_plan, setup, CREST_KEY) if setup_plan else None
        reading, _ = reading_of(step, setup, plan, setup_plan)
        if crest_cm is not None and reading is not None:
            pairs.append((crest_cm, reading))
    return pairs


def _bare(step: ReadingStep, reading: float) -> str:
    text = reading_text(step, reading)
    return text.removesuffix(f" {step.unit}").removesuffix("°")

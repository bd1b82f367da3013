"""What the coach's page says: assembled here, drawn by the sheets."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fieldlog.date_words import day_text
from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import FIRST_VISIT, Change, chance_words
from fieldlog.fieldwork.change.published_errors import typical_error
from fieldlog.fieldwork.change.rig_changes import mean_change_words, ratio_change_words
from fieldlog.fieldwork.change.side_difference import SideDifference, side_difference
from fieldlog.fieldwork.results.direction_ratio import direction_ratio_pct
from fieldlog.fieldwork.results.holds import hold_angle_deg
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook, quality_word
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.batch import Batch
from fieldlog.records.protocol import Direction, Protocol, Side
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["CAUTIONS", "FEWEST_FOR_STRIP", "CoachGroup", "CoachLine", "CoachPage", "coach_page"]

CAUTIONS = (
    "These are training figures, not a diagnosis. Pain, injury or doubt: ask medical staff before training on.",
    "Differences smaller than the detectable change are within the error of the test.",
    "Maximal efforts need warm-up, supervision and the rules of your place.",
)

RETEST_WITHIN = dt.timedelta(days=14)
"""How soon a test is repeated: while training has changed little (common practice)."""
FEWEST_FOR_STRIP = 5
"""Fewer people would be known by their place on the strip, and their mean says little."""


@dataclass(frozen=True)
class CoachLine:
    """One athlete and side: figures by direction (``up`` and ``down`` keys) and what they are worth.

    ``sides`` (on the line of the right side) judges right against left, with its own detectable difference.
    """

    code: str
    side: Side
    body_mass_kg: float | None
    peak_torque_nm: dict[Direction, float | None]
    peak_torque_nm_kg: dict[Direction, float | None]
    ratio_pct: float | None
    side_difference_pct: dict[Direction, float | None]
    change: dict[Direction, Change]
    quality: str
    covers: dict[Direction, str]
    cover_remarks: tuple[str, ...]
    repetitions: str
    next_step: str
    sides: Mapping[Direction, SideDifference] = field(default_factory=dict)


@dataclass(frozen=True)
class CoachGroup:
    """The lines of one protocol at its main speed, with the words of its directions.

    ``typical_error_pct`` is the largest the lines were judged by; ``typical_errors`` says all of them;
    ``hold_angles_deg`` are the angles of isometric efforts, to the degree, lowest first;
    ``rig_changes`` says by how much results released under a failed check may move the means of the squad.
    """

    protocol: Protocol
    speed_deg_s: float
    lines: tuple[CoachLine, ...]
    typical_error_pct: float
    typical_error_source: str
    mean_change_pct: dict[Direction, tuple[float, float, float, int] | None]
    typical_errors: tuple[str, ...] = ()
    rig_changes: tuple[str, ...] = ()
    hold_angles_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class CoachPage:
    """Everything the coach's page prints. Holds no health data.

    ``chance`` says how many marks chance alone would make. ``checks`` are those the covers rest on.
    """

    site_name: str
    date: dt.date
    squads: tuple[str, ...]
    groups: tuple[CoachGroup, ...]
    not_tested: tuple[str, ...]
    waiting_for_rig: int
    shows_strip: bool
    cautions: tuple[str, ...]
    results: tuple[DirectionResult, ...]
    chance: str = ""
    checks: tuple[RigCheck, ...] = ()


def coach_page(
    workspace: Workspace, store: Store, visit: Visit, comparer: Comparer | None = None
) -> CoachPage:
    """Assemble the coach's page of a visit from its counted sets; no test after the visit's day changes it."""
    comparer = (comparer or Comparer(workspace)).upto(visit.date)
    book = comparer.trials.book
    batches = [kept.record for kept in at_site(store, Batch).find(visit_id=visit.id)]
    results = book.of_visit(store, visit.id)
    protocol_ids = sorted({result.record.protocol_id for result in results})
    groups = tuple(
        _group(
            comparer,
            book.protocol(protocol_id),
            [r for r in results if r.record.protocol_id == protocol_id],
            visit.date,
        )
        for protocol_id in protocol_ids
    )
    tested = {result.record.athlete_id for result in results}
    planned = {entry.athlete_id for batch in batches for entry in batch.entries}
    people = [book.athletes[athlete_id] for athlete_id in tested if athlete_id in book.athletes]
    return CoachPage(
        site_name=site_of(store).name,
        date=visit.date,
        squads=tuple(sorted({batch.squad for batch in batches if batch.squad})),
        groups=groups,
        not_tested=tuple(sorted(book.code(athlete_id) for athlete_id in planned - tested)),
        waiting_for_rig=sum(not result.cover.usable for result in results),
        shows_strip=len(tested) >= FEWEST_FOR_STRIP and not any(person.minor for person in people),
        cautions=CAUTIONS,
        results=tuple(results),
        chance=chance_words(
            change for group in groups for line in group.lines for change in line.change.values()
        ),
        checks=_covering_checks(workspace, results),
    )


def _covering_checks(workspace: Workspace, results: Sequence[DirectionResult]) -> tuple[RigCheck, ...]:
    """The checks that the covers of ``results`` rest on, in order of time; the closing one may be of another site."""
    ids = {check_id for each in results for check_id in (each.cover.opening_id, each.cover.closing_id)}
    found = (
        at_site(store, RigCheck).get(check_id)
        for store in workspace.sites.values()
        for check_id in ids
        if check_id is not None
    )
    return tuple(sorted((kept.record for kept in found if kept), key=lambda check: check.at))


def _group(
    comparer: Comparer, protocol: Protocol, results: Sequence[DirectionResult], visited: dt.date
) -> CoachGroup:
    speed = min(result.record.speed_deg_s for result in results)
    main = [result for result in results if result.record.speed_deg_s == speed]
    by_line: dict[tuple[str, Side], dict[Direction, DirectionResult]] = {}
    for result in main:
        by_line.setdefault((result.record.athlete_id, result.record.side), {})[result.direction] = result
    lines = []
    errors: dict[str, float] = {}
    for (athlete_id, side), by_direction in by_line.items():
        left = by_line.get((athlete_id, "left"), {}) if side == "right" else {}
        changes = {}
        for direction, result in by_direction.items():
            changes[direction] = _change(comparer, result, errors)
        sides = {
            direction: side_difference(comparer, left[direction], result)
            for direction, result in by_direction.items()
            if direction in left
        }
        lines.append(
            _line(
                comparer.trials.book,
                protocol,
                side,
                by_direction=by_direction,
                sides=sides,
                changes=changes,
                visited=visited,
            )
        )
    angles = [hold_angle_deg(result.figures) for result in main]
    shipped = typical_error(protocol.region)
    largest = max(errors, key=lambda words: errors[words], default="")
    return CoachGroup(
        protocol=protocol,
        speed_deg_s=speed,
        lines=tuple(sorted(lines, key=lambda line: (line.code, line.side))),
        typical_error_pct=round(errors[largest], 1) if errors else shipped.value_pct,
        typical_error_source=largest or shipped.source,
        mean_change_pct={direction: _mean_change(lines, direction) for direction in protocol.efforts},
        typical_errors=tuple(sorted(errors)),
        rig_changes=mean_change_words(protocol, main),
        hold_angles_deg=tuple(sorted({round(angle, 0) for angle in angles if angle is not None})),
    )


def _change(comparer: Comparer, result: DirectionResult, errors: dict[str, float]) -> Change:
    """Change since the athlete's last visit; the error it is judged by is added to ``errors`` with its source."""
    score = comparer.trials.score(MEASURES[PEAK], comparer.trials.trial(result))
    if score is None:
        return Change("no comparison: no value")
    error = comparer.bank.in_use(score)
    if error is not None and error.percent is not None:
        errors[error.rests_on] = error.percent
    return comparer.latest(score)


def _line(
    book: ResultBook,
    protocol: Protocol,
    side: Side,
    *,
    by_direction: dict[Direction, DirectionResult],
    sides: Mapping[Direction, SideDifference],
    changes: dict[Direction, Change],
    visited: dt.date,
) -> CoachLine:
    first = next(iter(by_direction.values()))
    peaks = {direction: result.peak_torque_nm for direction, result in by_direction.items()}
    return CoachLine(
        code=book.code(first.record.athlete_id),
        side=side,
        body_mass_kg=first.record.body_mass_kg,
        peak_torque_nm=peaks,
        peak_torque_nm_kg={
            direction: result.figures.get("best_peak_torque_nm_kg")
            for direction, result in by_direction.items()
        },
        ratio_pct=direction_ratio_pct(protocol, peaks),
        side_difference_pct={
            direction: sides[direction].difference_pct if direction in sides else None
            for direction in by_direction
        },
        change=changes,
        quality=quality_word(first.record.measures),
        covers={direction: result.cover.word for direction, result in by_direction.items()},
        cover_remarks=tuple(
            sorted(
                {
                    *(result.cover.remark for result in by_direction.values() if result.cover.remark),
                    *filter(None, (ratio_change_words(protocol, by_direction),)),
                }
            )
        ),
        repetitions=_repetitions(first),
        next_step=_next_step(by_direction, changes, visited),
        sides=sides,
    )


def _repetitions(result: DirectionResult) -> str:
    counted, found = result.figures["movements"], len(result.movements)
    typed = " typed" if is_typed(result.record.measures) else ""
    return f"{counted}{typed}" if counted == found else f"{counted} of {found}{typed}"


def _next_step(
    by_direction: dict[Direction, DirectionResult], changes: dict[Direction, Change], visited: dt.date
) -> str:
    """What is to be done next, in words; a retest is always asked for by a day."""
    results = by_direction.values()
    if not all(result.cover.usable for result in results) or any(
        quality_word(result.record.measures) == "stop" for result in results
    ):
        return f"retest by {day_text(visited + RETEST_WITHIN)}"
    if all(change.word == FIRST_VISIT for change in changes.values()):
        return "repeat the first visit"
    return "nothing to add"


def _mean_change(lines: Sequence[CoachLine], direction: Direction) -> tuple[float, float, float, int] | None:
    """Mean change of the squad in percent with its 95 % t interval and how many it rests on."""
    changes = [
        line.change[direction].change_pct
        for line in lines
        if direction in line.change and line.change[direction].change_pct is not None
    ]
    if len(changes) < FEWEST_FOR_STRIP:
        return None
    from fieldlog.analysis.squad import mean_interval

    # Changes of torque add up on the logarithms: +25 % and −20 % cancel.
    squad = mean_interval([math.log1p(change / 100.0) for change in changes if change is not None])
    mean, low, high = (100.0 * math.expm1(value) for value in (squad.mean, squad.low, squad.high))
    return mean, low, high, len(changes)

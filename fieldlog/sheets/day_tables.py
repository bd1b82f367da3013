"""Tables that the rig's page and the record of a visit share: checks, events, reviews."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fieldlog.date_words import day_text
from fieldlog.records.review import Review
from fieldlog.records.rig import EVENT_WORDS, RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.sheets.content import Column, Row, Table
from fieldlog.sheets.wording import clock_text
from fieldlog.store.repo import Kept

__all__ = ["check_summary", "check_words", "events_table", "reviews_table"]


def check_summary(heading: str, checks: list[RigCheck]) -> Table:
    """One line a check: when, stage, state, by whom, verdict of each part."""
    columns = (
        Column("at", "time", width_pt=34),
        Column("stage", "stage", width_pt=44),
        Column("state", "state", width_pt=44),
        Column("by", "taken by", width_pt=60, share=1),
        Column("torque", "torque", width_pt=66),
        Column("zero", "zero", width_pt=44),
        Column("hysteresis", "hysteresis", width_pt=44),
        Column("angle", "angle", width_pt=52),
        Column("speed", "speed", width_pt=52),
        Column("verdict", "verdict", width_pt=70),
    )
    rows = []
    for check in checks:
        judged = check.judged
        parts = [judged["torque"]["verdict"], judged["zero"]["verdict"]]
        parts += [
            judged["torque"].get("hysteresis_verdict"),
            judged["angle"]["verdict"],
            judged["speed"]["verdict"],
        ]
        rows.append(
            Row(
                (
                    clock_text(check.at),
                    check.stage,
                    check.state,
                    check.by,
                    *(part or "not checked" for part in parts),
                    check.verdict,
                ),
                opens_group=True,
            )
        )
    return Table(heading, columns, tuple(rows), empty="no check on this day")


def check_words(check: RigCheck) -> str:
    """A check in a few words, as ``opening check 08:14``."""
    return f"{check.stage} check {clock_text(check.at)}"


def events_table(events: Iterable[Kept[RigEvent]]) -> Table:
    """What happened to the rig, in order of time, and who noted it."""
    columns = (
        Column("at", "time", width_pt=40),
        Column("kind", "what happened to the rig", width_pt=110),
        Column("note", "note", width_pt=100, share=1),
        Column("by", "noted by", width_pt=80),
    )
    rows = [
        Row((clock_text(kept.record.at), EVENT_WORDS[kept.record.kind], kept.record.note, kept.revision.by))
        for kept in sorted(events, key=lambda kept: kept.record.at)
    ]
    return Table("Events at the rig", columns, tuple(rows), empty="none noted")


def reviews_table(reviews: Iterable[Review], subjects: Mapping[str, str]) -> Table:
    """What the lead decided of checks and sets; ``subjects`` names each by its id."""
    columns = (
        Column("at", "when", width_pt=90),
        Column("about", "about", width_pt=90),
        Column("decision", "decision", width_pt=70),
        Column("by", "by", width_pt=70),
        Column("remark", "remark", width_pt=100, share=1),
    )
    rows = [
        Row(
            (
                f"{day_text(review.at.date())}, {clock_text(review.at)}",
                subjects[review.subject_id],
                review.decision.replace("_", " "),
                review.by,
                review.remark,
            )
        )
        for review in sorted(reviews, key=lambda review: (review.at, review.id))
    ]
    return Table("Reviews", columns, tuple(rows))

"""The sets of a visit on paper: a table a protocol in its own words, and how the figures were worked out."""

from __future__ import annotations

from collections.abc import Mapping

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject
from fieldlog.fieldwork.results.cover import Cover
from fieldlog.fieldwork.results.holds import direction_figures
from fieldlog.fieldwork.results.results import ResultBook, quality_word
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol
from fieldlog.records.terms import DIRECTIONS, Direction
from fieldlog.sheets.content import Block, Column, Figure, Row, Table, Words
from fieldlog.sheets.wording import clock_text, speed_text

__all__ = ["protocol_name", "recipe_words", "sets_tables"]

_WEIGHT = {"none": "weight not corrected", "sweep": "weight from a sweep", "given": "weight as given"}
_ALREADY = {
    "weight_corrected": "corrected for weight",
    "filtered": "filtered",
    "load_range_only": "the load range only",
}
# Said elsewhere on the page: the weight with the recipe, what was left out with its reason.
_SAID_ELSEWHERE = frozenset({"gravity_missing", "left_out"})


def sets_tables(book: ResultBook, subject: SheetSubject, sets: list[EffortSet]) -> list[Block]:
    """A table for each protocol, in order of time, then the recipes the tables name by number."""
    if not sets:
        return [Table("Sets in order of time", (), (), empty="no set was recorded")]
    recipes: dict[str, int] = {}
    for record in sorted(sets, key=lambda each: each.at):
        recipes.setdefault(recipe_words(record), len(recipes) + 1)
    covers = {
        (result.record.id, result.direction): result.cover
        for kept in sets_of(subject.store, subject.visit.id)
        for result in book.of_set(kept)
    }
    blocks: list[Block] = []
    for protocol_id in dict.fromkeys(record.protocol_id for record in sets):
        protocol = book.protocol(protocol_id)
        columns = _columns(protocol)
        rows = [
            _row(book, record, protocol, covers, recipes)
            for record in sets
            if record.protocol_id == protocol_id
        ]
        blocks.append(Table(f"Sets in order of time: {protocol.name}", columns, tuple(rows)))
    blocks.append(
        Words(
            tuple(f"{number}: {words}." for words, number in recipes.items()),
            heading="Recipes: how the figures were worked out",
            small=True,
        )
    )
    return blocks


def protocol_name(book: ResultBook, protocol_id: str) -> str:
    """Return a protocol's name, or its id where it is not to be had."""
    try:
        return book.protocol(protocol_id).name
    except FieldlogError:
        return protocol_id


def recipe_words(record: EffortSet) -> str:
    """Return how the figures of a set were worked out; speed, body mass and what is left out stand with the set."""
    recipe = record.measures["recipe"]
    if is_typed(record.measures):
        return "typed from the display, no recording"
    said = [f"version {recipe['version']}", _low_pass("torque", recipe.get("cutoff_hz"))]
    source = recipe.get("velocity")
    if source:
        said.append("speed as recorded" if source == "column" else "speed from the angle")
        said.append(_low_pass("speed", recipe.get("velocity_cutoff_hz")))
    said.append(f"load range within {recipe['band_pct']:g} % of the set speed")
    said.append(_WEIGHT.get(recipe["gravity"], f"weight {recipe['gravity']}"))
    if recipe.get("at_deg"):
        said.append(f"torque also at {', '.join(f'{angle:g}°' for angle in recipe['at_deg'])}")
    if recipe.get("drop"):
        said.append(f"first {recipe['drop']} of each direction not counted")
    if recipe.get("mode"):
        said.append(f"taken as {recipe['mode']}")
    if recipe.get("resampled"):
        said.append("samples spaced evenly anew")
    said += [
        f"{'' if state == 'yes' else 'not known whether '}the file was already {_ALREADY[name]}"
        for name, state in sorted((recipe.get("already") or {}).items())
        if state != "no" and name in _ALREADY
    ]
    return ", ".join(said)


def _low_pass(what: str, cutoff_hz: float | None) -> str:
    return f"{what} low-passed at {cutoff_hz:g} Hz" if cutoff_hz else f"{what} not filtered"


def _columns(protocol: Protocol) -> tuple[Column, ...]:
    return (
        Column("at", "time", width_pt=30),
        Column("athlete", "athlete", width_pt=44, share=0.4),
        Column("set", "set", "", "number", 22),
        Column("side", "side", width_pt=30),
        Column("speed", "speed", width_pt=36),
        Column("mode", "mode", width_pt=52),
        Column("standing", "standing", width_pt=58),
        *(
            Column(f"{each}_peak_torque_nm", protocol.direction_name(each), "N·m", "number", 38)
            for each in _directions(protocol)
        ),
        Column("quality", "quality", width_pt=36),
        Column("cover", "cover", width_pt=52),
        Column("recipe", "recipe", "", "number", 28),
        Column("remarks", "remarks", width_pt=80, share=1),
    )


def _directions(protocol: Protocol) -> tuple[Direction, ...]:
    return tuple(each for each in DIRECTIONS if each in protocol.efforts)


def _row(
    book: ResultBook,
    record: EffortSet,
    protocol: Protocol,
    covers: Mapping[tuple[str, Direction], Cover],
    recipes: Mapping[str, int],
) -> Row:
    figures = [direction_figures(record, each, protocol.efforts) or {} for each in _directions(protocol)]
    found = [covers[key] for key in ((record.id, each) for each in DIRECTIONS) if key in covers]
    return Row(
        (
            clock_text(record.at),
            book.code(record.athlete_id),
            Figure(record.number, 0),
            record.side,
            speed_text(record.speed_deg_s),
            record.mode,
            record.standing,
            *(Figure(each.get("best_peak_torque_nm"), 1) for each in figures),
            quality_word(record.measures),
            "; ".join(sorted({cover.shown for cover in found})) or "–",
            Figure(recipes[recipe_words(record)], 0),
            _remarks(record, {cover.remark for cover in found if cover.remark}),
        )
    )


def _remarks(record: EffortSet, remarks: set[str]) -> str:
    said = sorted(remarks)
    said += [f"repetition {entry.index} left out: {entry.reason}" for entry in record.left_out]
    if record.without_clearance:
        said.append("without clearance, does not count")
    codes = {entry["code"] for entry in record.measures.get("quality", ())} - _SAID_ELSEWHERE
    return "; ".join([*said, *sorted(code.replace("_", " ") for code in codes)])

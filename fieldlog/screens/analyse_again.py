"""A kept recording measured again with other options, and why; the result before stays in the set's history."""

from __future__ import annotations

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_number
from fieldlog.fieldwork.recording.trace_options import trace_options
from fieldlog.fieldwork.results.holds import best_peak_nm
from fieldlog.fieldwork.results.keep_set import Seat
from fieldlog.fieldwork.results.sets import reanalyse, recipe_of
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.recipe import TraceOptions
from fieldlog.screens.form import FormRoom, paragraph
from fieldlog.screens.table import Cell
from fieldlog.screens.words import measured
from fieldlog.store.repo import Kept

__all__ = ["AnalyseAgainRoom"]

FIELDS = {
    "cutoff_hz": "low-pass, cut-off in Hz (0: none)",
    "band_pct": "band of the load range in % of set speed",
    "drop": "leading movements not counted, a direction",
    "at_deg": "torque at angles in °, with blanks between",
    "why": "why, which is kept with the result",
}


class AnalyseAgainRoom(FormRoom):
    """The options as they were; what is changed here holds for this set only."""

    about = (
        "Enter asks for the option under the cursor; the last line measures the recording again and keeps the new "
        "figures as an amendment with your reason. The recording itself, speed, side and what was left out stay; the "
        "earlier figures stay in the set's history, and u takes the amendment back. Figures of another recipe are not "
        "compared with those of the usual one."
    )

    def __init__(self, seat: Seat, kept: Kept[EffortSet]) -> None:
        self.seat, self.kept = seat, kept
        self.recipe = recipe_of(kept.record)
        typed = {
            "cutoff_hz": f"{self.recipe.cutoff_hz:g}",
            "band_pct": f"{self.recipe.band_pct:g}",
            "drop": f"{self.recipe.drop}",
            "at_deg": " ".join(f"{angle:g}" for angle in self.recipe.at_deg),
            "why": "",
        }
        super().__init__(
            f"set {kept.record.number} · {kept.record.trace_name}: analyse again",
            FIELDS,
            typed,
            draft=f"again/{kept.record.id}",
        )

    def hint(self) -> list[Cell]:
        """What the figures follow from now."""
        return paragraph(
            "Other options give other figures of the same recording. Use them only with a reason a reader of the "
            "page can follow, and the same for every set that is to be compared.",
            self.size.width,
            "quiet",
        )

    def save(self) -> str:
        """Measure again and keep it."""
        options = self._options()
        before = self._peaks(self.kept.record)
        self.kept = reanalyse(
            self.seat.store, self.kept, options, by=self.fieldlog.by, why=self.typed["why"].strip()
        )
        record = self.kept.record
        self.fieldlog.note_saved(
            f"set {record.number}, analysed again", (self.seat.store, EffortSet.table, record.id)
        )
        self.typed["why"] = ""
        changes = "; ".join(
            f"{name} {measured(old, 1, 'N·m', with_unit=False)} → {measured(new, 1, 'N·m')}"
            for (name, old), (_, new) in zip(before, self._peaks(record), strict=True)
        )
        return f"saved: {changes}; esc shows the set"

    def _options(self) -> TraceOptions:
        drop = parse_number(self.typed["drop"], "leading movements")
        if not drop.is_integer():
            raise InputError(f"leading movements: {drop:g} is no whole number", "type 0, 1, 2 …")
        return trace_options(
            cutoff_hz=parse_number(self.typed["cutoff_hz"], "cut-off"),
            band_pct=parse_number(self.typed["band_pct"], "band"),
            drop=int(drop),
            at_deg=tuple(parse_number(word, "angle") for word in self.typed["at_deg"].split()),
            gravity_fit=self.recipe.gravity_fit,
        )

    def _peaks(self, record: EffortSet) -> list[tuple[str, float | None]]:
        protocol = self.seat.protocol
        return [
            (protocol.direction_name(direction), best_peak_nm(record.measures, direction, protocol.efforts))
            for direction in protocol.efforts
        ]

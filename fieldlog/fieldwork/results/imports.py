"""A recording on its way in: what has to be known of it, and its measures before anything is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.recording import Recording, analysed, read_recording
from fieldlog.fieldwork.recording.weighing import (
    Occasion,
    refuse_borrowed_sweep,
    weighing_entries,
    with_entries,
)
from fieldlog.fieldwork.results.typed_set import TypedPeaks, typed_measures
from fieldlog.records.column_map import ColumnMap
from fieldlog.records.protocol import Mode, Side
from fieldlog.records.recipe import TraceOptions

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording import Analysed, MovementCurve

__all__ = ["Import", "JudgedImport", "analyse_import"]


@dataclass(frozen=True)
class Import:
    """A recording with all that has to be known to analyse it and to say whose it is.

    ``data`` and ``sweep`` are the files as they were, byte for byte. ``recipe`` holds what else was asked
    of the analysis, ``None`` the usual. Where no recording can be had, ``typed`` holds the peak torques and
    ``data`` the text of what was typed.
    """

    name: str
    data: bytes
    side: Side
    mode: Mode
    speed_deg_s: float
    body_mass_kg: float | None = None
    sweep: bytes | None = None
    column_map: ColumnMap | None = None
    angles_deg: tuple[float, ...] = ()
    recipe: TraceOptions | None = None
    typed: TypedPeaks | None = None

    def options(self, left_out: Sequence[int] = ()) -> TraceOptions:
        """The options the analysis is run with."""
        recipe = self.recipe or TraceOptions()
        return TraceOptions(
            speed_deg_s=self.speed_deg_s or None,
            gravity_fit=recipe.gravity_fit,
            cutoff_hz=recipe.cutoff_hz,
            band_pct=recipe.band_pct,
            at_deg=self.angles_deg,
            body_mass_kg=self.body_mass_kg,
            mode=None if self.mode == "concentric" else self.mode,
            drop=recipe.drop,
            leave_out=tuple(left_out),
        )

    def recordings(self) -> tuple[Recording, Recording | None]:
        """The recording and, where the limb was weighed, the sweep. Raises InputError for a typed set."""
        if self.typed is not None:
            raise InputError("this set was typed", "there is no recording of it")
        recording = read_recording(self.data, name=self.name, column_map=self.column_map)
        return recording, self.sweep_recording()

    def sweep_recording(self) -> Recording | None:
        """The sweep as it is read, where the limb was weighed by one."""
        if self.sweep is None:
            return None
        return read_recording(self.sweep, name=f"sweep of {self.name}", column_map=self.column_map)


@dataclass(frozen=True, eq=False)
class JudgedImport:
    """A recording read and analysed once: shown while the athlete waits, kept and drawn from the same analysis.

    ``weighing`` are the quality entries that a comparison with other weighings gave. ``analysed`` is ``None``
    for a typed set.
    """

    taken: Import
    plain_measures: Mapping[str, Any]
    weighing: tuple[Mapping[str, Any], ...] = ()
    analysed: Analysed | None = None

    @property
    def measures(self) -> dict[str, Any]:
        """The measures as they are shown and kept."""
        return with_entries(dict(self.plain_measures), self.weighing)

    def curves(self) -> list[MovementCurve]:
        """The curves of the recording for drawing; none of a typed set."""
        return [] if self.analysed is None else self.analysed.curves()

    def weighed_at(self, occasion: Occasion) -> JudgedImport:
        """The same, with the weighing held against the last visit, the other side and the handbook."""
        entries = weighing_entries(occasion, self.plain_measures, self.taken.body_mass_kg)
        return replace(self, weighing=tuple(entries))


def analyse_import(
    import_: Import,
    left_out: Sequence[int] = (),
    *,
    occasion: Occasion | None = None,
    recording: Recording | None = None,
) -> JudgedImport:
    """Read and analyse a recording before it is kept, so that it can be judged while the athlete waits.

    With the ``occasion`` the weighing is compared with the last visit, the other side and the handbook.
    ``recording`` is the one already read from ``import_.data``, so that nothing is read twice.
    Raises RefusedError where the sweep weighed somebody or something else.
    """
    if occasion is not None and import_.sweep is not None:
        refuse_borrowed_sweep(occasion, import_.sweep)
    judged = _judged(import_, left_out, recording)
    return judged if occasion is None else judged.weighed_at(occasion)


def _judged(import_: Import, left_out: Sequence[int], recording: Recording | None) -> JudgedImport:
    if import_.typed is not None:
        measures = typed_measures(
            import_.typed,
            mode=import_.mode,
            speed_deg_s=import_.speed_deg_s,
            body_mass_kg=import_.body_mass_kg,
            left_out=left_out,
        )
        return JudgedImport(import_, measures)
    if recording is None:
        recording, sweep = import_.recordings()
    else:
        sweep = import_.sweep_recording()
    found = analysed(recording, import_.options(left_out), sweep=sweep)
    return JudgedImport(import_, found.body, analysed=found)

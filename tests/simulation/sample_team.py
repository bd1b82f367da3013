"""The recordings and rig checks of the invented team: what there is, and the files.

``manifest()`` lists every recording with its athlete, side, set and sweep; ``check_entries(visit)`` the
rig checks of a visit; ``write_recordings(folder)`` writes all of it. Everything follows from the data in
``sample_people`` and the names of the files, so the same call writes the same bytes.
"""

from __future__ import annotations

import json
import zlib
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import PUBLISHED, Coefficients, CosineBell, PublishedMuscle, speed_factor
from tests.simulation.recording import Effort, Impact, Scene, Weight
from tests.simulation.rig import check_entry
from tests.simulation.sample_people import (
    CHECK_ARM_M,
    CHECK_MASSES_KG,
    RIG_NAME,
    VISITS,
    SampleAthlete,
    SampleVisit,
    athlete,
    site,
)
from tests.simulation.writers import GERMAN, own_columns

PROTOCOL_IDS = {"trunk": "trunk_standing_60_120", "knee": "knee_60_180"}  # as in the shipped catalogue
TRUNK_SPEEDS_DEG_S = (60.0, 120.0)
KNEE_SPEEDS_DEG_S = (60.0, 180.0)
REPETITIONS = 5
MINUTES_A_TRUNK = 11
MINUTES_A_KNEE = 12
GERMAN_LOGGER = ("2026-05-06", "R08")  # this athlete's sets of that day came from a logger set to German
COLUMN_MAP_FILE = "german_columns.json"
EVERYDAY = (0.96, 1.0, 0.985, 0.97, 0.955)
#: Sets that did not go as planned: strength of each repetition.
STILL_CLIMBING = "2026-05-06_R05_trunk_060.csv"
SLIPPED = "2026-03-04_R07_trunk_120.csv"  # the chest pad slipped in the fourth repetition
UNUSUAL = {STILL_CLIMBING: (0.80, 0.86, 0.91, 0.96, 1.0), SLIPPED: (0.97, 1.0, 0.98, 0.62, 0.96)}

#: Only C4 and C5 matter here; invented so that torque at 120°/s is nine tenths of that at 60°/s.
_TRUNK_SPEED = Coefficients(c1=0.0, c2_per_rad=0.0, c3_rad=0.0, c4_rad_s=3.0, c5_rad_s=7.8, c6_s_per_rad=0.2)


@dataclass(frozen=True)
class SampleRecording:
    """One set (or relaxed sweep, ``kind``) of one athlete as a file; ``protocol`` is a key of ``PROTOCOL_IDS``.

    ``left_out`` names movements by index that do not count, with the reason.
    """

    file: str
    kind: str
    visit_site: str
    visit_date: str
    athlete: str
    protocol: str
    side: str
    number: int
    mode: str
    speed_deg_s: float
    at: str
    by: str
    body_mass_kg: float
    sweep_file: str | None = None
    column_map_file: str | None = None
    left_out: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class TrunkMuscle:
    """A cosine bell over the angle with the published speed factor; invented, as no published trunk form was used."""

    bell: CosineBell

    def torque_nm(self, angle_deg: Any, speed_deg_s: Any = 0.0) -> Any:
        return self.bell.torque_nm(angle_deg) * speed_factor(_TRUNK_SPEED, speed_deg_s)


def manifest() -> tuple[SampleRecording, ...]:
    """Every recording of every visit, in the order taken; a knee's sweep comes before its sets."""
    return tuple(recording for visit in VISITS for recording in recordings_of(visit))


def recordings_of(visit: SampleVisit) -> tuple[SampleRecording, ...]:
    """The recordings of one visit in the order taken."""
    recordings: list[SampleRecording] = []
    at = _instant(visit, visit.first_at)
    for code in visit.trunk:
        recordings += _sets(visit, code, "trunk", "both", at)
        at += timedelta(minutes=MINUTES_A_TRUNK)
    for code in visit.knee:
        for side in ("right", "left"):
            recordings += _sets(visit, code, "knee", side, at)
            at += timedelta(minutes=MINUTES_A_KNEE)
    return tuple(recordings)


def text_of(recording: SampleRecording) -> str:
    """The file's text: in our own columns, or as the logger set to German writes it."""
    visit = next(v for v in VISITS if (v.site, v.date) == (recording.visit_site, recording.visit_date))
    gain_from = _instant(visit, visit.gain_from)
    gain = visit.gain if datetime.fromisoformat(recording.at) >= gain_from else 1.0
    chain = Acquisition(
        rate_hz=100.0,
        seed=_seed(recording.file),
        torque_noise_nm=0.4,
        torque_step_nm=0.1,
        velocity_noise_deg_s=0.3,
        gain=gain,
    )
    samples = chain.sample(scene_of(recording))
    if recording.column_map_file:
        preamble = ("Messung einer erfundenen Person (Simulation)", "Anlage A", f"Datum {visit.date}")
        return replace(GERMAN, preamble=preamble).text(samples)
    return own_columns(samples, decimals=(2, 1, 1, 1))


def scene_of(recording: SampleRecording) -> Scene:
    """The physics behind a recording, with its truth."""
    person = athlete(recording.athlete)
    if recording.kind == "sweep":
        sweep = to_and_fro(10.0, 90.0, 10.0, repetitions=1, dwell_s=0.3, lead_s=0.3)
        return Scene(sweep, weight=knee_weight(person), friction_nm=0.9)
    visit = next(v for v in VISITS if (v.site, v.date) == (recording.visit_site, recording.visit_date))
    today = dict(visit.change).get(person.code, 1.0) * (1 + 0.012 * Random(_seed(recording.file)).gauss(0, 1))
    scale = tuple(today * share for share in UNUSUAL.get(recording.file, EVERYDAY))
    knee = recording.protocol == "knee"
    overshoot = {
        "overshoot_share": 0.06 if knee else 0.03,
        "overshoot_hz": 8.0,
        "overshoot_decay_s": 0.05,
    }
    motion = to_and_fro(
        *((10.0, 90.0) if knee else (-5.0, 65.0)),
        recording.speed_deg_s,
        repetitions=REPETITIONS,
        dwell_s=0.25,
        lead_s=0.5,
        up_first=not knee,  # the knee starts bent, the trunk upright
        ramp_s=0.10 if knee else 0.12,
        **overshoot,
    )
    switch = {"rise_s": 0.12, "fall_s": 0.08}
    if knee:
        strength = person.knee_strength[0 if recording.side == "right" else 1]
        muscles = [
            PublishedMuscle(
                PUBLISHED[f"knee {action}", person.sex], person.body_mass_kg, person.height_m, strength
            )
            for action in ("flexion", "extension")
        ]
        weight, inertia = knee_weight(person), 0.30
    else:
        flexion_nm, extension_nm = (share * person.body_mass_kg for share in person.trunk_nm_kg)
        muscles = [
            TrunkMuscle(CosineBell(flexion_nm, 20.0, 75.0)),
            TrunkMuscle(CosineBell(extension_nm, 38.0, 72.0)),
        ]
        # the trunk frame is balanced by a spring, about a third of the upper body's weight is left
        weight, inertia = Weight(sin_nm=0.35 * person.body_mass_kg), 2.0
    efforts = {1: Effort(muscles[0], +1, **switch), -1: Effort(muscles[1], -1, **switch)}
    return Scene(
        motion, efforts, weight=weight, inertia_kg_m2=inertia, impact=Impact(8.0), repetition_scale=scale
    )


def knee_weight(person: SampleAthlete) -> Weight:
    """Shank and foot after Winter 2009, Table 4.1 (0.061 of body mass, centre at 0.606 of the shank; shank length
    0.246 of body height, from memory), and 2.5 N·m of lever and pad."""
    limb_nm = 0.061 * person.body_mass_kg * 9.81 * 0.606 * 0.246 * person.height_m
    return Weight(cos_nm=limb_nm + 2.5, sin_nm=0.1 * limb_nm, offset_nm=0.6)


def check_entries(visit: SampleVisit) -> dict[str, dict[str, Any]]:
    """The visit's rig checks by file name, in the order taken."""
    entries = {}
    for check in visit.checks:
        file = f"{visit.date}_{check.stage}{'_as_left' if check.state == 'as-left' else ''}.json"
        entries[file] = check_entry(
            check.rig,
            site(visit.site).place,
            name=RIG_NAME,
            stage=check.stage,
            state=check.state,
            at=_instant(visit, check.time).isoformat(),
            by=check.by,
            masses_kg=CHECK_MASSES_KG,
            arm_m=CHECK_ARM_M,
            temperature_c=check.temperature_c,
            powered_on_at=_instant(visit, check.powered_on).isoformat() if check.powered_on else None,
            seed=_seed(file),
        )
    return entries


def write_recordings(folder: Path) -> list[Path]:
    """Write every recording, the column map, the rig checks and ``manifest.json`` into ``folder``; return the paths."""
    texts = {recording.file: text_of(recording) for recording in manifest()}
    texts[COLUMN_MAP_FILE] = _json(GERMAN.column_map())
    for visit in VISITS:
        texts |= {file: _json(entry) for file, entry in check_entries(visit).items()}
    texts["manifest.json"] = _json([asdict(recording) for recording in manifest()])
    folder.mkdir(parents=True, exist_ok=True)
    for file, text in texts.items():
        (folder / file).write_text(text, encoding="utf-8", newline="\n")
    return [folder / file for file in texts]


def _sets(visit: SampleVisit, code: str, protocol: str, side: str, at: datetime) -> list[SampleRecording]:
    stem = f"{visit.date}_{code}_{protocol}" + ("" if side == "both" else f"_{side}")
    common: dict[str, Any] = {
        "visit_site": visit.site,
        "visit_date": visit.date,
        "athlete": code,
        "protocol": protocol,
        "side": side,
        "mode": "concentric",
        "by": visit.tester,
        "body_mass_kg": athlete(code).body_mass_kg,
    }
    recordings = []
    sweep_file = None
    if protocol == "knee":
        sweep_file = f"{stem}_sweep.csv"
        sweep = SampleRecording(sweep_file, "sweep", number=0, speed_deg_s=10.0, at=at.isoformat(), **common)
        recordings.append(sweep)
    german = (visit.date, code) == GERMAN_LOGGER
    for number, speed_deg_s in enumerate(
        KNEE_SPEEDS_DEG_S if protocol == "knee" else TRUNK_SPEEDS_DEG_S, start=1
    ):
        file = f"{stem}_{speed_deg_s:03.0f}.csv"
        recordings.append(
            SampleRecording(
                file,
                "set",
                number=number,
                speed_deg_s=speed_deg_s,
                at=(at + timedelta(minutes=3 * number)).isoformat(),
                sweep_file=sweep_file,
                column_map_file=COLUMN_MAP_FILE if german else None,
                left_out=((7, "slip"), (8, "slip")) if file == SLIPPED else (),
                **common,
            )
        )
    return recordings


def _instant(visit: SampleVisit, time: str) -> datetime:
    return datetime.fromisoformat(f"{visit.date}T{time}:00{site(visit.site).utc_offset}")


def _seed(name: str) -> int:
    return zlib.crc32(name.encode())


def _json(body: Any) -> str:
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"

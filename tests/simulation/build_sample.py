"""Build ``sample_sites/``: the invented team's workspace, from simulated recordings through the real verbs.

``python -m tests.simulation.build_sample`` rebuilds it; the same code gives the same bytes. All visits but
the last are in the stores; the last lies as raw files in ``recordings/`` for the tour.
"""

from __future__ import annotations

import datetime as dt
import json
import shutil
from itertools import count
from pathlib import Path
from random import Random
from unittest.mock import patch

from fieldlog.cli.sample_script import VISIT_FILE, RawVisit
from fieldlog.cli.sample_visit import play
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.person_entries import record_consent
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import derived_id
from fieldlog.records.rig import Lever, Rig, RigUnit, rig_id
from fieldlog.records.setup_plan import ChoiceStep, ReadingStep
from fieldlog.records.site import Site
from fieldlog.records.standard import Certificate, ReferenceStandard
from fieldlog.store.persons import Persons
from fieldlog.store.repo import Repo
from fieldlog.store.workspace import Workspace
from fieldlog.store.workspace_file import DEVICE_FILE
from tests.simulation.sample_people import (
    ATHLETES,
    CHECK_ARM_M,
    CHECK_MASSES_KG,
    RIG_NAME,
    SITES,
    SQUADS,
    VISITS,
    SampleVisit,
)
from tests.simulation.sample_people import athlete as person_of
from tests.simulation.sample_people import site as site_of
from tests.simulation.sample_team import (
    COLUMN_MAP_FILE,
    PROTOCOL_IDS,
    SampleRecording,
    check_entries,
    recordings_of,
    text_of,
)
from tests.simulation.writers import GERMAN

ROOT = Path(__file__).resolve().parents[2] / "sample_sites"
OFFICE = dt.datetime.fromisoformat("2025-11-03T09:00:00+01:00")
ABOUT = "Invented: no real person, place or measurement. Recordings come from a physical simulation."


def build(folder: Path) -> None:
    """Write the workspace into an empty or new ``folder``."""
    moment = [OFFICE]
    counter = count(1)

    def set_time(at: dt.datetime) -> None:
        moment[0] = at

    def numbered(*_random: object) -> str:
        return derived_id("sample", str(next(counter)))

    random = Random(20260506)
    names = ("sets", "batches", "rigs", "clearances")
    patches = [patch(f"fieldlog.fieldwork.{name}.new_id", numbered, create=True) for name in names]
    for each in patches:
        each.start()
    try:
        workspace = Workspace.create(
            folder, now_ms=lambda: int(moment[0].timestamp() * 1000), random_bytes=random.randbytes
        )
        with workspace:
            workspace._persons = Persons(
                workspace.team, random_text=lambda size: random.randbytes(size).hex()
            )
            _enter_team(workspace)
            for visit in VISITS[:-1]:
                raw_folder = folder / "raw"
                raw = write_raw_visit(visit, raw_folder)
                for _line in play(workspace, raw_folder, raw, set_time):
                    pass
                shutil.rmtree(raw_folder)
            for store in workspace.stores():
                store.seal()
    finally:
        for each in patches:
            each.stop()
    # A laptop's own: its lock, its note of what it has checked, its name.
    for own in (*folder.glob("*/lock"), *folder.glob("*/sealed/.checked"), folder / DEVICE_FILE):
        own.unlink()
    write_raw_visit(VISITS[-1], folder / "recordings")
    (folder / "README.txt").write_text(f"{ABOUT}\nOpen it with: fieldlog tour\n", encoding="utf-8")


def write_raw_visit(visit: SampleVisit, folder: Path) -> RawVisit:
    """Write the raw files of one visit with its ``visit.json``; return what that file says."""
    folder.mkdir(parents=True)
    recordings = recordings_of(visit)
    for recording in recordings:
        _write(folder / recording.file, text_of(recording))
    if any(recording.column_map_file for recording in recordings):
        _write(folder / COLUMN_MAP_FILE, _json(GERMAN.column_map()))
    entries = check_entries(visit)
    for file, entry in entries.items():
        _write(folder / file, _json(entry))
    body = _raw_body(visit, recordings, {file: entry["at"] for file, entry in entries.items()})
    _write(folder / VISIT_FILE, _json(body))
    return RawVisit.model_validate(body)


def _raw_body(
    visit: SampleVisit, recordings: tuple[SampleRecording, ...], checks: dict[str, str]
) -> dict[str, object]:
    offset = site_of(visit.site).utc_offset
    turns = []
    for protocol, codes in (("trunk", visit.trunk), ("knee", visit.knee)):
        if codes:
            absent = [code for code, _why in visit.absent] if not turns else []
            turns.append({"protocol_id": PROTOCOL_IDS[protocol], "athletes": codes, "absent": absent})
    opening = visit.checks[0]
    return {
        "about": ABOUT,
        "site": visit.site,
        "date": visit.date,
        "tester": visit.tester,
        "squad": SQUADS[visit.squad],
        "rig": RIG_NAME,
        "arrived_at": f"{visit.date}T07:15:00{offset}",
        "arrival": {
            "levelled": True,
            "anchored": True,
            "cables": True,
            "stop_switch_athlete": True,
            "stop_switch_tester": True,
            "first_aid": "first-aider: tester 3; defibrillator by the door; phone has signal (invented)",
            "powered_on_at": f"{visit.date}T{opening.powered_on}:00{offset}" if opening.powered_on else None,
            "hall_temperature_c": opening.temperature_c,
        },
        "events": [
            {"at": f"{visit.date}T{at}:00{offset}", "kind": kind, "note": note}
            for at, kind, note in visit.events
        ],
        "checks": [{"at": at, "file": file} for file, at in checks.items()],
        "turns": turns,
        "setups": _setups(visit, recordings),
        "sets": [
            {
                "at": recording.at,
                "file": recording.file,
                "athlete": recording.athlete,
                "protocol_id": PROTOCOL_IDS[recording.protocol],
                "side": recording.side,
                "mode": recording.mode,
                "speed_deg_s": recording.speed_deg_s,
                "body_mass_kg": recording.body_mass_kg,
                "sweep_file": recording.sweep_file,
                "column_map_file": recording.column_map_file,
                "left_out": [{"index": index, "reason": reason} for index, reason in recording.left_out],
            }
            for recording in recordings
            if recording.kind == "set"
        ],
    }


def _setups(visit: SampleVisit, recordings: tuple[SampleRecording, ...]) -> list[dict[str, object]]:
    setups = []
    seen: set[tuple[str, str, str]] = set()
    for recording in recordings:
        key = (recording.athlete, recording.protocol, recording.side)
        if key in seen:
            continue
        seen.add(key)
        at = dt.datetime.fromisoformat(recording.at) - dt.timedelta(minutes=1)
        plan = catalogue.plan(None, catalogue.protocol(None, PROTOCOL_IDS[recording.protocol]).plan_id)
        readings = {step.key: _reading(step, *key) for step in plan.steps if isinstance(step, ReadingStep)}
        choices = {step.key: step.options[0] for step in plan.steps if isinstance(step, ChoiceStep)}
        setups.append(
            {
                "at": at.isoformat(),
                "athlete": recording.athlete,
                "protocol_id": PROTOCOL_IDS[recording.protocol],
                "side": recording.side,
                "readings": readings,
                "choices": choices,
            }
        )
    return setups


#: Invented but plausible: (value at a body height of 1.80 m, change per metre of height).
_BY_HEIGHT = {
    "axis_height": (104.0, 0.0),
    "crest_height": (107.0, 60.0),
    "foot_plate": (36.0, -60.0),
    "thigh_support": (17.0, 30.0),
    "lower_knee_pad": (11.0, 18.0),
    "upper_knee_pad": (19.0, 24.0),
    "seat_pad": (6.5, 12.0),
    "back_pad": (31.0, 40.0),
    "heel_placement": (12.0, 0.0),
    "seat_back": (85.0, 0.0),
    "seat_depth": (24.0, 30.0),
    "lever_length": (33.0, 45.0),
    "stop_low": (0.0, 0.0),
    "stop_high": (95.0, 0.0),
    "rig_rotation": (0.0, 0.0),
    "straight_knee_deg": (0.0, 0.0),
}
_TRUNK_STOPS = {"stop_low": -10.0, "stop_high": 70.0}


def _reading(step: ReadingStep, code: str, protocol: str, side: str) -> float:
    if protocol == "trunk" and step.key in _TRUNK_STOPS:
        return _TRUNK_STOPS[step.key]
    middle, per_metre = _BY_HEIGHT[step.key]
    person = person_of(code)
    own = Random(f"{code} {protocol} {side} {step.key}").uniform(-1.5, 1.5) if per_metre else 0.0
    wished = middle + per_metre * (person.height_m - 1.80) + own * step.step
    steps = round((min(max(wished, step.low), step.high) - step.low) / step.step)
    return round(step.low + steps * step.step, 6)


def _enter_team(workspace: Workspace) -> None:
    by = "tester 1"
    for place in SITES:
        site = Site(
            id=derived_id("sample site", place.name),
            name=place.name,
            latitude_deg=place.latitude_deg,
            height_m=place.height_m,
            note=place.note,
        )
        workspace.add_site(site, by=by)
    Repo(workspace.team, Rig).save(
        Rig(
            id=rig_id(RIG_NAME),
            name=RIG_NAME,
            serial="invented-001",
            units=(RigUnit(name="trunk unit"), RigUnit(name="knee lever")),
            levers=(Lever(name="check lever", arm_m=CHECK_ARM_M, standard_uncertainty_m=0.0005),),
            display_step_nm=0.1,
            note=ABOUT,
        ),
        by=by,
    )
    due = dt.date(2026, 5, 27)
    for mass_kg in CHECK_MASSES_KG:
        certificate = Certificate(
            number=f"invented-{mass_kg:g}",
            issued_by="an invented laboratory",
            due_on=due,
            traceable_to="invented",
        )
        standard = ReferenceStandard(
            id=derived_id("sample mass", f"{mass_kg:g}"),
            name=f"mass {mass_kg:g} kg",
            kind="mass",
            nominal=mass_kg,
            unit="kg",
            mass_class="M1",
            certificate=certificate,
        )
        Repo(workspace.team, ReferenceStandard).save(standard, by=by)
    for person in ATHLETES:
        athlete = Athlete(
            id=derived_id("sample athlete", person.code),
            code=person.code,
            squad=SQUADS[person.squad],
            sex=person.sex,
            minor=person.minor,
        )
        Repo(workspace.team, Athlete).save(athlete, by=by)
        record_consent(
            workspace,
            athlete.id,
            given_on=OFFICE.date(),
            valid_until=dt.date(2026, 12, 31),
            wording="invented consent, version 1",
            by_guardian=person.minor,
            by=by,
            at=OFFICE,
        )


def _json(body: object) -> str:
    return json.dumps(body, ensure_ascii=False, indent=1) + "\n"


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    shutil.rmtree(ROOT, ignore_errors=True)
    build(ROOT)
    size = sum(path.stat().st_size for path in ROOT.rglob("*") if path.is_file())
    print(f"{ROOT}: {size / 1e6:.2f} MB")

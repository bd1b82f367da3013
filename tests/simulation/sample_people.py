"""The invented team of the sample workspace: places, people, visits. Nothing here is real.

One team travels with one rig to three places and three squads. The boathouse is visited three times, so
that change shows, and the tour goes through the last of these visits; at the hall the rig is knocked unnoticed around noon, so that the closing check
fails and the day's results become suspect; at the academy, 1,620 m up, the opening check finds the
rig still off, it is adjusted, and the check as left passes.
Strengths are within what trained people show; the trunk's are common practice, the knee's scale the
published form in ``muscle``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tests.simulation.rig import Place, SimulatedRig

RIG_NAME = "rig A"
CHECK_MASSES_KG = (5.0, 10.0, 20.0, 40.0)
CHECK_ARM_M = 0.75


@dataclass(frozen=True)
class SampleSite:
    """An invented place."""

    name: str
    latitude_deg: float
    height_m: float
    utc_offset: str
    note: str

    @property
    def place(self) -> Place:
        return Place(self.latitude_deg, self.height_m)


@dataclass(frozen=True)
class SampleAthlete:
    """An invented person. ``trunk_nm_kg``: muscle peaks standing still, (flexion, extension), per kg of body mass;
    ``knee_strength``: share of the published average, (right, left)."""

    code: str
    squad: str
    sex: Literal["female", "male"]
    body_mass_kg: float
    height_m: float
    minor: bool = False
    trunk_nm_kg: tuple[float, float] = (2.6, 4.1)
    knee_strength: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class SampleCheck:
    """A rig check of a visit: when, what the rig was like, and the verdict the story needs."""

    stage: Literal["opening", "closing"]
    time: str
    rig: SimulatedRig
    by: str
    expected: Literal["pass", "fail"]
    state: Literal["as-found", "as-left"] = "as-found"
    temperature_c: float = 18.0
    powered_on: str | None = None


@dataclass(frozen=True)
class SampleVisit:
    """One day at a place. ``trunk``/``knee``: codes in their order at the rig; ``change``: strength against the
    athlete's own first visit; ``gain_from``: from this time on the rig reads high by ``gain``."""

    site: str
    date: str
    tester: str
    squad: str
    first_at: str
    checks: tuple[SampleCheck, ...]
    trunk: tuple[str, ...] = ()
    knee: tuple[str, ...] = ()
    absent: tuple[tuple[str, str], ...] = ()
    change: tuple[tuple[str, float], ...] = ()
    events: tuple[tuple[str, str, str], ...] = ()
    gain: float = 1.0
    gain_from: str = "23:59"
    note: str = ""


SITES = (
    SampleSite(
        "Skarvik boathouse", 60.2, 4.0, "+01:00", "Invented. Cold hall by the water; rig by the north wall."
    ),
    SampleSite(
        "Lowfield hall", 52.0, 12.0, "+00:00", "Invented. Sprung floor: level the rig again after the break."
    ),
    SampleSite(
        "Tarn academy",
        46.6,
        1620.0,
        "+01:00",
        "Invented. High up: local gravity is a quarter per mille less.",
    ),
)

SQUADS = {"rowers": "Skarvik rowers", "court": "Lowfield court squad", "skiers": "Tarn skiers under 18"}

ATHLETES = (
    SampleAthlete("R01", "rowers", "male", 88.5, 1.91, trunk_nm_kg=(2.9, 4.5), knee_strength=(1.12, 1.09)),
    SampleAthlete("R02", "rowers", "male", 82.0, 1.86, trunk_nm_kg=(2.6, 3.7)),
    SampleAthlete("R03", "rowers", "male", 93.4, 1.95, trunk_nm_kg=(2.7, 4.2), knee_strength=(1.10, 0.93)),
    SampleAthlete("R04", "rowers", "female", 71.2, 1.77, trunk_nm_kg=(2.3, 3.6)),
    SampleAthlete("R05", "rowers", "female", 74.8, 1.80, trunk_nm_kg=(2.4, 3.9)),
    SampleAthlete("R06", "rowers", "female", 68.9, 1.74, trunk_nm_kg=(2.2, 3.5)),
    SampleAthlete("R07", "rowers", "male", 79.6, 1.84, trunk_nm_kg=(2.8, 4.0)),
    SampleAthlete("R08", "rowers", "female", 66.3, 1.72, trunk_nm_kg=(2.3, 3.4)),
    SampleAthlete("C01", "court", "female", 67.5, 1.75, trunk_nm_kg=(2.2, 3.3)),
    SampleAthlete("C02", "court", "female", 72.1, 1.79, trunk_nm_kg=(2.4, 3.4)),
    SampleAthlete("C03", "court", "female", 63.8, 1.70, trunk_nm_kg=(2.1, 3.1)),
    SampleAthlete("C04", "court", "male", 84.0, 1.90, trunk_nm_kg=(2.6, 3.8)),
    SampleAthlete("C05", "court", "male", 77.3, 1.83, trunk_nm_kg=(2.5, 3.6)),
    SampleAthlete("C06", "court", "male", 90.2, 1.94, trunk_nm_kg=(2.5, 3.9)),
    SampleAthlete("T01", "skiers", "female", 57.4, 1.66, minor=True, knee_strength=(1.02, 1.05)),
    SampleAthlete("T02", "skiers", "female", 60.9, 1.69, minor=True, knee_strength=(1.10, 1.07)),
    SampleAthlete("T03", "skiers", "male", 66.0, 1.76, minor=True, knee_strength=(0.98, 1.01)),
    SampleAthlete("T04", "skiers", "male", 70.7, 1.79, minor=True, knee_strength=(1.06, 0.92)),
    SampleAthlete("T05", "skiers", "male", 63.2, 1.72, minor=True, knee_strength=(0.95, 0.97)),
)

_SOUND = SimulatedRig(slope_up=1.0021, slope_down=1.0034, hysteresis_pct=0.12)
_AFTER_WINTER = SimulatedRig(slope_up=1.0032, slope_down=1.0041, hysteresis_pct=0.12, angle_offset_deg=0.2)
KNOCK_GAIN = 1.034  # the lever clamp slipped: every torque reads high by the same percentage
_KNOCKED = SimulatedRig(
    slope_up=1.0021 * KNOCK_GAIN, slope_down=1.0034 * KNOCK_GAIN, hysteresis_pct=0.12, angle_offset_deg=0.3
)
_ADJUSTED = SimulatedRig(slope_up=0.9989, slope_down=1.0007, hysteresis_pct=0.12)

VISITS = (
    SampleVisit(
        site="Skarvik boathouse",
        date="2025-11-12",
        tester="tester 1",
        squad="rowers",
        first_at="09:00",
        trunk=("R01", "R02", "R03", "R04", "R05", "R06", "R07", "R08"),
        checks=(
            SampleCheck(
                "opening", "08:14", _SOUND, "tester 1", "pass", temperature_c=9.0, powered_on="07:40"
            ),
            SampleCheck("closing", "11:52", _SOUND, "tester 1", "pass", temperature_c=11.0),
        ),
        events=(("07:30", "moved", "unloaded from the van"),),
        note="Baseline before the indoor season.",
    ),
    SampleVisit(
        site="Lowfield hall",
        date="2026-01-21",
        tester="tester 2",
        squad="court",
        first_at="10:10",
        trunk=("C01", "C02", "C03", "C04", "C05", "C06"),
        checks=(
            SampleCheck("opening", "09:20", _SOUND, "tester 2", "pass", powered_on="08:50"),
            SampleCheck("closing", "13:05", _KNOCKED, "tester 2", "fail"),
        ),
        events=(("08:35", "moved", "unloaded from the van"),),
        gain=KNOCK_GAIN,
        gain_from="10:40",
        note="Closing check failed; nobody saw the rig being knocked.",
    ),
    SampleVisit(
        site="Tarn academy",
        date="2026-02-11",
        tester="tester 1",
        squad="skiers",
        first_at="10:00",
        knee=("T01", "T02", "T03", "T04"),
        checks=(
            SampleCheck("opening", "08:30", _KNOCKED, "tester 1", "fail", powered_on="07:55"),
            SampleCheck("opening", "09:25", _ADJUSTED, "tester 1", "pass", state="as-left"),
            SampleCheck("closing", "14:40", _ADJUSTED, "tester 1", "pass"),
        ),
        events=(
            ("07:45", "moved", "unloaded from the van"),
            ("09:05", "adjusted", "lever clamp tightened, torque slope set again"),
        ),
        absent=(("T05", "guardian's consent not in date"),),
        note="First visit: read it as familiarisation.",
    ),
    SampleVisit(
        site="Skarvik boathouse",
        date="2026-03-04",
        tester="tester 1",
        squad="rowers",
        first_at="09:00",
        trunk=("R01", "R02", "R03", "R04", "R05", "R07", "R08"),
        knee=("R01", "R03"),
        checks=(
            SampleCheck(
                "opening", "08:14", _AFTER_WINTER, "tester 1", "pass", temperature_c=6.0, powered_on="07:40"
            ),
            SampleCheck("closing", "13:20", _AFTER_WINTER, "tester 1", "pass", temperature_c=9.0),
        ),
        events=(("07:25", "moved", "unloaded from the van"),),
        absent=(("R06", "away at a training camp"),),
        change=(
            ("R01", 1.03),
            ("R02", 1.16),
            ("R03", 0.98),
            ("R04", 1.06),
            ("R05", 0.86),
            ("R07", 1.01),
            ("R08", 1.09),
        ),
        note="End of the indoor season.",
    ),
    SampleVisit(
        site="Skarvik boathouse",
        date="2026-05-06",
        tester="tester 2",
        squad="rowers",
        first_at="09:00",
        trunk=("R01", "R02", "R05", "R07", "R08"),
        knee=("R03",),
        checks=(
            SampleCheck(
                "opening", "08:20", _AFTER_WINTER, "tester 2", "pass", temperature_c=11.0, powered_on="07:45"
            ),
            SampleCheck("closing", "11:10", _AFTER_WINTER, "tester 2", "pass", temperature_c=13.0),
        ),
        events=(("07:30", "moved", "unloaded from the van"),),
        absent=(("R06", "did not come"),),
        change=(("R01", 1.07), ("R02", 1.15), ("R05", 0.97), ("R07", 1.02), ("R08", 1.12), ("R03", 1.01)),
        note="The visit that the tour goes through.",
    ),
)


def athlete(code: str) -> SampleAthlete:
    """The invented person behind a code."""
    return next(person for person in ATHLETES if person.code == code)


def site(name: str) -> SampleSite:
    """The invented place of that name."""
    return next(place for place in SITES if place.name == name)

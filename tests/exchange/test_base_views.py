"""What a lead asks in SQL: the same words that laptops find, over all sites."""

from __future__ import annotations

import datetime as dt
import random

import pytest

from fieldlog.exchange.depot import DepotFile
from fieldlog.fieldwork.results.cover import CheckFact, EventFact, cover_of
from fieldlog.store.lines import Change
from tests.exchange.laptops import SITE_ID
from tests.faults.counts import LONG

DAY = dt.datetime(2031, 5, 4, 8, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
VERDICTS = ("pass", "conditional pass", "conditional fail", "fail")
EVENTS = ("moved", "knocked", "unit_changed", "power_lost", "adjusted", "serviced")
OTHER_SITE = "aaaa00000000000000000002"


def a_point(direction: str, reference_nm: float) -> dict:
    return {
        "mass_kg": 10, "direction": direction, "reference_nm": reference_nm, "reading_nm": reference_nm + 0.5,
        "error_nm": 0.5, "error_pct": 0.5, "u_expanded_nm": 0.4, "coverage_factor": 2, "verdict": "pass",
    }  # fmt: skip


def a_check(
    at: dt.datetime, *, stage="opening", state="as-found", verdict="pass", points=(), rig="r1"
) -> dict:
    torque = {"points": list(points), "hysteresis_pct": 0.3, "lines": {"up": {"slope": 1.01}, "down": None}}
    return {
        "schema_version": 1, "rig_id": rig, "stage": stage, "state": state, "verdict": verdict, "by": "Ana",
        "at": at.isoformat(), "entry": {"rig": "rig A"}, "judged": {"torque": torque, "zero": {"change_nm": 0.1}},
    }  # fmt: skip


def a_set(at: dt.datetime, up_nm: float | None = 100.0, down_nm: float | None = None, rig="r1") -> dict:
    figures = {"up": up_nm, "down": down_nm}
    return {
        "schema_version": 1, "rig_id": rig, "athlete_id": "a1", "visit_id": "v", "protocol_id": "p", "number": 1,
        "side": "left", "mode": "concentric", "standing": "counted", "at": at.isoformat(),
        "measures": {
            "set_speed_deg_s": 60,
            "set": {d: {"movements": 5, "best_peak_torque_nm": nm, "total_work_j": 400} for d, nm in figures.items() if nm != 0},
        },
    }  # fmt: skip


def keep(laptop, site_id: str, table: str, bodies: dict[str, dict]) -> None:
    store = laptop.site(site_id, {SITE_ID: "Boathouse", OTHER_SITE: "Old pool"}[site_id])
    store.commit([Change(table, name, {"id": name, **body}) for name, body in bodies.items()], by="Ana")


def random_history(chance: random.Random) -> tuple[dict, dict, dict]:
    def moment() -> dt.datetime:
        at = DAY + dt.timedelta(minutes=20 * chance.randrange(0, 3 * 72))
        return at.astimezone(dt.timezone(dt.timedelta(hours=chance.choice((-11, -5, 0, 2, 13)))))

    checks = {
        f"{number:024x}": (
            chance.choice((SITE_ID, OTHER_SITE)),
            a_check(
                moment(),
                stage=chance.choice(("opening", "interim", "closing")),
                state=chance.choice(("as-found", "as-found", "as-left")),
                verdict=chance.choice(VERDICTS + ("pass",) * 4),
                points=[
                    a_point(chance.choice(("up", "down")), chance.choice((20.0, 60.0, 100.0, 150.0)))
                    for _ in range(chance.randrange(4))
                ],
                rig=chance.choice(("r1", "r2")),
            ),
        )
        for number in range(chance.randrange(1, 25))
    }
    events = {
        f"e{number}": {
            "rig_id": chance.choice(("r1", "r2")), "kind": chance.choice(EVENTS), "at": moment().isoformat(), "note": "",
        }
        for number in range(chance.randrange(6))
    }  # fmt: skip
    sets = {
        f"s{number}": a_set(
            moment(),
            chance.choice((10.0, 70.0, 119.9, 200.0, None)),
            chance.choice((0, 55.0)),
            chance.choice(("r1", "r2", "r3")),
        )
        for number in range(30)
    }
    return checks, events, sets


def fact(check_id: str, site: str, body: dict) -> CheckFact:
    largest, smallest = {}, {}
    for point in body["judged"]["torque"]["points"]:
        direction, reference = point["direction"], point["reference_nm"]
        largest[direction] = max(largest.get(direction, reference), reference)
        smallest[direction] = min(smallest.get(direction, reference), reference)
    return CheckFact(
        id=check_id, at=dt.datetime.fromisoformat(body["at"]), site=site, stage=body["stage"], state=body["state"],
        verdict=body["verdict"], largest_reference_nm=largest, smallest_reference_nm=smallest,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(150 if LONG else 4))
def test_cover_in_sql_is_the_cover_laptops_judge(laptop, base, seed) -> None:
    chance = random.Random(seed)
    kestrel = laptop("kestrel")
    checks, events, sets = random_history(chance)
    for site in (SITE_ID, OTHER_SITE):
        own = {name: body for name, (at_site, body) in checks.items() if at_site == site}
        if own:
            keep(kestrel, site, "rig_checks", own)
    if events:
        keep(kestrel, SITE_ID, "rig_events", events)
    keep(kestrel, OTHER_SITE, "sets", sets)
    kestrel.sync(base.depot())
    found = {
        (set_id, direction): (cover, remark, opening, closing)
        for set_id, direction, cover, remark, opening, closing in base.rows(
            "select set_id, direction, cover, cover_remark, opening_id, closing_id from fieldlog.result",
            "lead",
        )
    }
    expected = {}
    for set_id, body in sets.items():
        facts = [
            fact(check_id, site, check)
            for check_id, (site, check) in sorted(checks.items())
            if check["rig_id"] == body["rig_id"]
        ]
        happened = [
            EventFact(dt.datetime.fromisoformat(event["at"]), event["kind"])
            for event in events.values()
            if event["rig_id"] == body["rig_id"]
        ]
        for direction, figures in body["measures"]["set"].items():
            cover = cover_of(
                dt.datetime.fromisoformat(body["at"]),
                direction,
                figures["best_peak_torque_nm"],
                facts,
                happened,
            )
            expected[set_id, direction] = (cover.word, cover.remark, cover.opening_id, cover.closing_id)
    assert found == expected


def test_a_rigs_history_spans_all_sites(laptop, base) -> None:
    kestrel = laptop("kestrel")
    kestrel.team.commit([Change("rigs", "r1", {"id": "r1", "name": "Rig A"})], by="Ana")
    keep(
        kestrel, SITE_ID, "rig_checks", {"c1": a_check(DAY, points=[a_point("up", 100), a_point("down", 90)])}
    )
    keep(kestrel, OTHER_SITE, "rig_checks", {"c2": a_check(DAY + dt.timedelta(days=1), verdict="fail")})
    kestrel.sync(base.depot())
    assert base.rows(
        "select rig, site, verdict, largest_error_pct from fieldlog.rig_history order by happened_at",
        "tester",
    ) == [
        ("Rig A", "Boathouse", "pass", 0.5),
        ("Rig A", "Old pool", "fail", None),
    ]
    assert base.rows("select direction, reference_nm from fieldlog.rig_point order by 2", "lead") == [
        ("down", 90),
        ("up", 100),
    ]


def test_certificates_and_last_checks_are_on_the_due_list(laptop, base) -> None:
    kestrel = laptop("kestrel")
    standards = {
        "m1": {
            "id": "m1",
            "name": "mass 10 kg",
            "certificate": {"due_on": (dt.date.today() + dt.timedelta(days=12)).isoformat()},
        },
        "m2": {"id": "m2", "name": "mass 5 kg", "certificate": None},
        "m3": {"id": "m3", "name": "odd", "certificate": {"due_on": "2031-13-45"}},
    }
    kestrel.team.commit([Change("standards", name, body) for name, body in standards.items()], by="Ana")
    kestrel.sync(base.depot())
    assert base.rows("select what, name, days from fieldlog.due", "lead") == [
        ("certificate", "mass 10 kg", 12)
    ]


ODD = [
    {"at": "now"}, {"at": "2031-05-04T25:00:00+02:00"}, {"at": 5}, {"at": None}, {"judged": 7},
    {"judged": {"torque": {"points": {}}}}, {"judged": {"torque": {"points": [1, None, {"error_pct": 1e300}]}}},
    {"rig_id": None}, {"measures": []}, {"measures": {"set": {"up": {"movements": "five"}}}},
    {"measures": {"set": {"up": {"movements": 3, "best_peak_torque_nm": "x"}}}}, {"entry": []}, {"stage": {}},
]  # fmt: skip


def test_records_of_odd_shapes_spoil_no_view(laptop, base) -> None:
    kestrel = laptop("kestrel")
    event = {"kind": "moved", "rig_id": "r1", "at": DAY.isoformat()}
    checks = {f"odd {number}": {**a_check(DAY), **odd} for number, odd in enumerate(ODD)}
    keep(kestrel, SITE_ID, "rig_checks", {"good": a_check(DAY), **checks})
    sets = {f"odd set {number}": {**a_set(DAY), **odd} for number, odd in enumerate(ODD)}
    keep(kestrel, SITE_ID, "sets", {"good set": a_set(DAY), **sets})
    keep(
        kestrel,
        SITE_ID,
        "rig_events",
        {f"odd event {number}": {**event, **odd} for number, odd in enumerate(ODD)},
    )
    kestrel.sync(base.depot())
    views = base.rows("select table_name from information_schema.views where table_schema = 'fieldlog'")
    assert len(views) >= 9
    for (view,) in views:
        base.rows(f"select * from fieldlog.{view}", "lead")
    assert "good" in {row[0] for row in base.rows("select check_id from fieldlog.rig_history", "lead")}
    assert "good set" in {row[0] for row in base.rows("select set_id from fieldlog.result", "lead")}


@pytest.mark.parametrize("seed", range(60 if LONG else 3))
def test_heads_and_what_is_shown_do_not_depend_on_the_order_of_arrival(laptop, base, seed, tmp_path) -> None:
    """Random histories of one record, sealed one revision a file, brought in random order."""
    chance = random.Random(seed)
    kestrel = laptop("kestrel")
    made = []
    for number in range(14):
        document = chance.choice(("a", "b"))
        known = [revision for revision in made if revision.document == document]
        parents = tuple(
            revision.id for revision in chance.sample(known, min(len(known), chance.randrange(3)))
        )
        body = None if chance.random() < 0.2 else {"n": chance.randrange(3)}
        made += kestrel.team.commit(
            [Change("notes_of_tests", document, body, parents)], by=f"writer {number}"
        )
        kestrel.team.seal()
    files = list((kestrel.path / "team" / "sealed").glob("*.jsonl"))
    chance.shuffle(files)
    depot = base.depot()
    for count, path in enumerate(files):
        depot.put(DepotFile("team", "sealed", path.name), path.read_bytes())
        if count % 3 == 0:
            depot.put(DepotFile("team", "sealed", path.name), path.read_bytes())
    named = {parent for revision in made for parent in revision.parents}
    assert {row[0] for row in base.rows("select id from fieldlog.head")} == {r.id for r in made} - named
    shown = {(s, t, d): head[0] for (s, t, d), head in kestrel.shown().items()}
    assert {
        row[:3]: row[3]
        for row in base.rows("select store, record_table, document, id from fieldlog.head where shown")
    } == shown
    conflicts = {conflict.document for conflict in kestrel.team.conflicts()}
    assert {row[0] for row in base.rows("select document from fieldlog.conflict")} == conflicts

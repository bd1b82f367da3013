"""The side order is kept from visit to visit."""

import datetime as dt

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athlete_days import save_day
from fieldlog.fieldwork.batch.side_order import side_order
from fieldlog.records.effort_set import EffortSet
from fieldlog.store.repo import Repo
from tests.fieldwork.bodies import NO_MEASURES

KNEE = catalogue.shipped_protocols()["knee_60_180"]


def test_the_side_order_is_that_of_the_last_visit(field):
    assert side_order(field.workspace, field.store, field.visit, field.adult.id, KNEE) == ("right", "left")
    save_day(
        field.store, field.visit, field.adult.id, {"first_side": "left"}, by="t", at=field.clock("08:00")
    )
    assert side_order(field.workspace, field.store, field.visit, field.adult.id, KNEE) == ("left", "right")
    earlier = dt.date(2030, 11, 12)
    for number, side in enumerate(("right", "left"), start=1):
        record = EffortSet(
            id=f"set{number}",
            visit_id=field.visit_on(earlier).id,
            batch_id="b",
            athlete_id=field.adult.id,
            protocol_id=KNEE.id,
            rig_id="r",
            number=number,
            side=side,
            mode="concentric",
            speed_deg_s=60,
            at=field.clock(f"10:0{number}", earlier),
            by="t",
            trace="0" * 64,
            trace_name="x.csv",
            options={},
            measures=NO_MEASURES,
        )
        Repo(field.store, EffortSet).save(record, by="t")
    assert side_order(field.workspace, field.store, field.visit, field.adult.id, KNEE) == ("right", "left")

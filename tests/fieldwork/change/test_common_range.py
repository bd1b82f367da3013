"""Work over the range two visits share, from the invented sample's recordings."""

import copy
import dataclasses

import pytest

from fieldlog.fieldwork.change.common_range import common_work
from fieldlog.fieldwork.change.comparability import range_of
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.results.measure_list import MEASURES, value_of


def trials_of(workspace, code):
    """The athlete's trials of 60°/s in the direction ``up`` at the first two visits."""
    trials = TrialBook(workspace)
    athlete = next(each for each in trials.book.athletes.values() if each.code == code)
    found = [
        t for t in trials.trials(athlete.id) if t.record.speed_deg_s == 60 and t.result.direction == "up"
    ]
    return [trial for trial in found if trial.protocol.region == "trunk"][:2]


def seen_between(trial, low_deg, high_deg):
    """The trial as if its repetitions had gone no further than these angles."""
    kept = copy.deepcopy(trial.result.kept)
    for movement in kept.record.measures["movements"]:
        for end in ("start_deg", "end_deg"):
            movement[end] = min(max(movement[end], low_deg), high_deg)
    return dataclasses.replace(trial, result=dataclasses.replace(trial.result, kept=kept))


def work_of(trial):
    return value_of(MEASURES["mean_work_j"], trial.result)


def test_over_equal_ranges_work_stands_as_measured(sample):
    before, now = trials_of(sample, "R01")
    assert common_work(sample, now, before) == (work_of(now), work_of(before))


def test_over_a_shorter_common_range_both_recordings_are_gone_through_again(sample):
    before, now = trials_of(sample, "R01")
    low, high = range_of(before)
    shorter = common_work(sample, now, seen_between(before, low + 5.0, high - 10.0))
    for work, trial in zip(shorter, (now, before), strict=True):
        assert 0.7 * work_of(trial) < work < 0.95 * work_of(trial)


def test_gone_through_again_over_the_whole_range_work_is_the_same(sample):
    before, now = trials_of(sample, "R01")
    low, high = range_of(before)
    wider = seen_between(now, low, high + 20.0)
    for movement in wider.record.measures["movements"]:
        movement["end_deg" if movement["direction"] == "up" else "start_deg"] = high + 20.0
    again = common_work(sample, wider, before)
    assert again[1] == pytest.approx(work_of(before), rel=0.02)


def test_ranges_that_share_little_have_no_common_work(sample):
    before, now = trials_of(sample, "R01")
    low, high = range_of(before)
    assert common_work(sample, now, seen_between(before, low, low + 20.0)).startswith(
        "ranges of motion share only"
    )
    assert common_work(sample, now, seen_between(before, high + 5, high + 5)) == "no common range of motion"


def test_without_the_recording_there_is_none(sample):
    before, now = trials_of(sample, "R01")
    low, high = range_of(before)
    shorter = seen_between(before, low + 5.0, high - 10.0)
    for store in sample.sites.values():
        for file in (store.path / "traces").glob(f"{before.record.trace}*"):
            file.unlink()
    assert common_work(sample, now, shorter) == (
        "ranges of motion differ, and a recording is not on this laptop"
    )

"""Consent in the persons files."""

import datetime as dt

import pytest

from fieldlog.fieldwork.athletes.person_entries import usual_consent_end


@pytest.mark.parametrize(
    ("given_on", "end"),
    [("2031-05-04", "2032-05-04"), ("2032-02-29", "2033-03-01"), ("2031-02-28", "2032-02-28")],
)
def test_consent_usually_runs_a_year(given_on, end):
    assert usual_consent_end(dt.date.fromisoformat(given_on)).isoformat() == end

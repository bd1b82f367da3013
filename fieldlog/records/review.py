"""A review: a decision of the lead about a record, with name, time and remark."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from fieldlog.records.base import Home, Instant, Part, Record, derived_id, folded_name
from fieldlog.records.terms import Direction

__all__ = ["ResultDecision", "Review", "RigChange", "admission_id", "review_id", "sign_off_id"]

ResultDecision = Literal["released", "corrected", "withheld", "retest"]


def _stripped(value: object) -> object:
    return value.strip() if isinstance(value, str) else value


Words = Annotated[str, BeforeValidator(_stripped), Field(min_length=1, max_length=2000)]
ReviewerName = Annotated[str, BeforeValidator(_stripped), Field(min_length=1, max_length=120)]


class RigChange(Part):
    """What the reviewer saw: how far the rig's error changed at the torque of the result.

    ``factor`` is what a correction multiplies torques by; 1 where nothing is corrected.
    """

    direction: Direction
    closing_id: str
    opening_id: str | None = None
    torque_nm: float | None = None
    change_nm: float | None = None
    u_expanded_nm: float | None = Field(default=None, ge=0)
    factor: float = Field(default=1.0, gt=0.1, lt=10.0)


class Review(Record):
    """Sign-off of a check, or what is done with a result that a failed check touches.

    A decision on a result holds for one direction of a set and for one failed check; another decision on the
    same is a revision of the same record, and two made on two laptops stand side by side until resolved.
    """

    table: ClassVar[str] = "reviews"
    home: ClassVar[Home] = "site"

    subject_table: Literal["rig_checks", "sets"]
    subject_id: str
    decision: Literal["signed_off", "released", "corrected", "withheld", "retest"]
    at: Instant
    by: ReviewerName
    remark: Words
    change: RigChange | None = None

    @model_validator(mode="after")
    def _fits_its_subject(self) -> Self:
        if (self.subject_table == "rig_checks") != (self.decision == "signed_off"):
            raise ValueError(
                "a check is signed off; a result is released, corrected, withheld or tested again"
            )
        return self


def review_id(set_id: str, direction: str, closing_id: str) -> str:
    """Id of the decision on one direction of a set under one failed check: the same on every laptop."""
    return derived_id("review", set_id, direction, closing_id)


def admission_id(set_id: str) -> str:
    """Id of the decision that a set recorded without clearance counts: the same on every laptop."""
    return derived_id("admission", set_id)


def sign_off_id(check_id: str, by: str) -> str:
    """Id of one person's sign-off of a check; two who sign it off make two records."""
    return derived_id("sign-off", check_id, folded_name(by))

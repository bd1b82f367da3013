"""What people decided about two athletes that look like one person."""

from __future__ import annotations

from typing import ClassVar, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Record, RecordId, derived_id

__all__ = ["Kinship", "kinship_id"]


class Kinship(Record):
    """Two athlete ids: one person entered twice (``same``), or two persons after all.

    Nothing is rewritten: results keep the id they were recorded under.
    """

    table: ClassVar[str] = "kinships"
    home: ClassVar[Home] = "team"

    athletes: tuple[RecordId, RecordId]
    same: bool
    note: str = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        first, second = self.athletes
        if first >= second:
            raise ValueError("two different ids are named, the smaller first")
        if self.id != kinship_id(first, second):
            raise ValueError("the id does not follow from the two athletes")
        return self


def kinship_id(one: str, other: str) -> str:
    """Id of the decision about two athletes: the same on every laptop, in either order."""
    return derived_id("kinship", *sorted((one, other)))

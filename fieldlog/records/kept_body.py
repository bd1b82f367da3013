"""Plain JSON kept beside a record: measures of a set, verdict of a check.

One program writes them and many rooms read them, so a body from elsewhere is held against its shape first.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ValidationError

from fieldlog.records.base import first_fault

__all__ = ["JudgedBody", "MeasuresBody"]


def _measures(body: dict[str, Any]) -> dict[str, Any]:
    from fieldlog.records.kept_shapes import Measures

    return _held_against(Measures, body)


def _judged(body: dict[str, Any]) -> dict[str, Any]:
    from fieldlog.records.kept_shapes import Judged

    return _held_against(Judged, body)


def _held_against(shape: type[BaseModel], body: dict[str, Any]) -> dict[str, Any]:
    try:
        shape.model_validate(body)
    except ValidationError as error:
        raise ValueError(first_fault(error)) from None
    return body


MeasuresBody = Annotated[dict[str, Any], AfterValidator(_measures)]
"""The measures of a set as ``fieldlog trace`` prints them; kept as they came."""

JudgedBody = Annotated[dict[str, Any], AfterValidator(_judged)]
"""The verdict on a check as ``fieldlog check`` prints it; kept as it came."""

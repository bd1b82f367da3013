"""The team's reference standards: entered and edited by hand, with their certificates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from pydantic import ValidationError

from fieldlog.date_words import day_text
from fieldlog.errors import InputError
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.entry import parse_day, parse_number
from fieldlog.records.base import first_fault, new_id
from fieldlog.records.standard import ReferenceStandard
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "KINDS",
    "MASS_CLASSES",
    "STANDARD_FIELDS",
    "certificate_words",
    "read_standard",
    "save_standard",
    "standards_of",
    "typed_of",
]

KINDS: dict[str, str] = {"mass": "kg", "lever": "m", "inclinometer": "deg", "timer": "s"}
"""Kinds of standards and the unit of their nominal value."""
MASS_CLASSES = ("E1", "E2", "F1", "F2", "M1", "M2", "M3", "unweighed")

STANDARD_FIELDS: dict[str, str] = {
    "name": "name, as written on it",
    "kind": "mass, lever, inclinometer or timer",
    "nominal": "nominal value (kg, m, deg or s)",
    "value": "certified value, empty for none",
    "standard_uncertainty": "standard uncertainty (k = 1), empty for none",
    "mass_class": "class: E1 to M3, or unweighed",
    "number": "certificate number, empty for none",
    "issued_by": "issued by",
    "issued_on": "issued on (year-month-day)",
    "due_on": "due on (year-month-day)",
    "traceable_to": "traceable to",
}
"""Every field of a standard in words, in the order it is asked for."""

_CERTIFICATE = ("number", "issued_by", "issued_on", "due_on", "traceable_to")
_NUMBERS = ("nominal", "value", "standard_uncertainty")
_DATES = ("issued_on", "due_on")


def standards_of(workspace: Workspace) -> list[Kept[ReferenceStandard]]:
    """The team's standards by kind, nominal value and name."""
    order = list(KINDS)
    return sorted(
        of_team(workspace, ReferenceStandard).all(),
        key=lambda kept: (order.index(kept.record.kind), kept.record.nominal, kept.record.name),
    )


def read_standard(typed: Mapping[str, str], identity: str | None = None) -> ReferenceStandard:
    """Return a standard from what was typed, by the fields of ``STANDARD_FIELDS``; empty means not known.

    Raises InputError naming the field that cannot be.
    """
    given = {name: typed.get(name, "").strip() for name in STANDARD_FIELDS}
    if given["kind"] not in KINDS:
        raise InputError(f"kind: {given['kind'] or 'nothing'!r} is none", f"one of {', '.join(KINDS)}")
    if any(given[name] for name in _CERTIFICATE) and not given["number"]:
        raise InputError("certificate: it has no number", "give its number, or leave all of it empty")
    if given["mass_class"] and given["kind"] != "mass":
        raise InputError("class: only masses have one", "leave it empty")
    body: dict[str, Any] = {
        "id": identity or new_id(),
        "name": given["name"],
        "kind": given["kind"],
        "unit": KINDS[given["kind"]],
        "mass_class": _mass_class(given["mass_class"]),
        **{
            name: parse_number(given[name], STANDARD_FIELDS[name]) if given[name] else None
            for name in _NUMBERS
        },
    }
    if given["number"]:
        certificate: dict[str, Any] = {name: given[name] for name in _CERTIFICATE if given[name]}
        body["certificate"] = certificate | {
            name: parse_day(given[name], STANDARD_FIELDS[name]) for name in _DATES if given[name]
        }
        _refuse_reversed(body["certificate"])
    try:
        return ReferenceStandard.model_validate(body)
    except ValidationError as error:
        raise InputError(f"standard: {first_fault(error)}", "correct it and save again") from None


def save_standard(
    workspace: Workspace, standard: ReferenceStandard, *, by: str, seen: Kept[ReferenceStandard] | None = None
) -> Kept[ReferenceStandard]:
    """Keep a standard; checks judged before keep the uncertainty they were judged with.

    Raises InputError where another standard has this name, as a check names its standards.
    """
    for kept in of_team(workspace, ReferenceStandard).all():
        if kept.record.id != standard.id and kept.record.name.casefold() == standard.name.casefold():
            raise InputError(
                f"name: there is a {standard.name!r} already", "give each piece a name of its own"
            )
    return of_team(workspace, ReferenceStandard).save(standard, by=by, seen=seen.revision if seen else None)


def typed_of(standard: ReferenceStandard | None) -> dict[str, str]:
    """Return a standard as the text of each field, to be edited; all empty where there is none yet."""
    if standard is None:
        return dict.fromkeys(STANDARD_FIELDS, "") | {"kind": "mass"}
    body = standard.to_body()
    values = body | (body["certificate"] or {})
    return {name: _text(values.get(name)) for name in STANDARD_FIELDS}


def certificate_words(
    standard: ReferenceStandard, today: dt.date, day_words: Callable[[dt.date], str] = day_text
) -> tuple[str, bool]:
    """Return what there is to say of a certificate, and whether it is overdue.

    ``day_words`` writes a day the way the reader has it.
    """
    certificate = standard.certificate
    if certificate is None:
        return "no certificate", False
    if certificate.due_on is None:
        return f"{certificate.number}, no due date", False
    days = (certificate.due_on - today).days
    if days < 0:
        return f"{certificate.number}, overdue by {-days} day{'s' if days != -1 else ''}", True
    return f"{certificate.number}, to {day_words(certificate.due_on)}", False


def _mass_class(typed: str) -> str | None:
    if not typed:
        return None
    found = next((known for known in MASS_CLASSES if known.casefold() == typed.casefold()), None)
    if found is None:
        raise InputError(f"class: {typed[:20]!r} is none", f"one of {', '.join(MASS_CLASSES)}, or empty")
    return found


def _refuse_reversed(certificate: Mapping[str, Any]) -> None:
    issued_on, due_on = certificate.get("issued_on"), certificate.get("due_on")
    if issued_on and due_on and due_on < issued_on:
        raise InputError(
            f"due on: {due_on} is before {issued_on}, when it was issued", "correct one of the days"
        )


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.12f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)

"""What every record is: a frozen value with an id, a table, a home and a schema number."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    StringConstraints,
    ValidationError,
)

from fieldlog.errors import InputError, NewerSchemaError

__all__ = [
    "Home",
    "Instant",
    "Part",
    "Record",
    "RecordId",
    "Sha256",
    "derived_id",
    "first_fault",
    "folded_name",
    "new_id",
]

ID_BYTES = 12

Home = Literal["team", "site"]
RecordId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
"""A SHA-256 in small hexadecimal digits."""


def _read_instant(value: object) -> datetime:
    if isinstance(value, str):
        text = value
        try:
            value = datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{text[:40]!r} is no ISO 8601 time") from None
    if not isinstance(value, datetime):
        # A bare number would be guessed at (seconds? milliseconds?), so it is no time.
        raise ValueError("a time is written as ISO 8601 text, for example 2031-05-04T09:30:00+02:00")  # noqa: TRY004 (pydantic turns ValueError into a field error, TypeError not)
    if value.utcoffset() is None:
        raise ValueError("the time has no offset; write for example 2031-05-04T09:30:00+02:00")
    return value


Instant = Annotated[
    datetime,
    BeforeValidator(_read_instant),
    PlainSerializer(lambda instant: instant.isoformat(), return_type=str),
]
"""A moment: ISO 8601 with its offset, required on reading and kept on writing."""


class Part(BaseModel):
    """A value inside a record: frozen, unknown fields refused, no NaN and no infinity."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Record(Part):
    """A thing the store keeps by id.

    A subclass names its ``table``, its ``home`` and, once its shape has changed, ``schema_latest``
    (with ``schema_version`` defaulting to the same number) and an ``upgrade``.
    """

    table: ClassVar[str]
    home: ClassVar[Home]
    schema_latest: ClassVar[int] = 1

    schema_version: int = Field(default=1, ge=1)
    id: RecordId

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        if cls.model_fields["schema_version"].default != cls.schema_latest:
            raise TypeError(f"{cls.__name__}: schema_version must default to schema_latest")

    @classmethod
    def upgrade(cls, body: dict[str, Any]) -> dict[str, Any]:
        """Return ``body``, written under an older schema, in the shape of ``schema_latest``.

        The store calls it in memory only; what lies on disk is never rewritten.
        """
        return {**body, "schema_version": cls.schema_latest}

    @classmethod
    def from_body(cls, body: dict[str, Any]) -> Self:
        """Read a stored body, older schemas included.

        Raises NewerSchemaError where a newer fieldlog wrote it, InputError naming the first faulty
        field where it is no such record.
        """
        version = body.get("schema_version", 1)
        if isinstance(version, int) and version > cls.schema_latest:
            raise NewerSchemaError(
                f"{cls.table} {body.get('id', '?')} has schema {version}, this fieldlog reads up to "
                f"{cls.schema_latest}",
                "it needs a newer fieldlog; it is kept and passed on as it is",
            )
        try:
            if isinstance(version, int) and version < cls.schema_latest:
                body = cls.upgrade(body)
            return cls.model_validate(body)
        except ValidationError as error:
            raise InputError(f"{cls.table} {body.get('id', '?')}: {first_fault(error)}") from None

    def to_body(self) -> dict[str, Any]:
        """Return the record as the JSON object that is stored."""
        return self.model_dump(mode="json")


def first_fault(error: ValidationError) -> str:
    """Return the first fault pydantic found as ``field[3].name: what is wrong``."""
    fault = error.errors(include_url=False, include_context=False, include_input=False)[0]
    place = ""
    for step in fault["loc"]:
        place += f"[{step}]" if isinstance(step, int) else f".{step}" if place else str(step)
    text = fault["msg"].removeprefix("Value error, ")
    return f"{place}: {text}" if place else text


def new_id(random_bytes: Callable[[int], bytes] = secrets.token_bytes) -> str:
    """Return a random id (96 bits, hexadecimal) that needs no agreement with other laptops."""
    return random_bytes(ID_BYTES).hex()


def derived_id(*parts: str) -> str:
    """Return the id that follows from ``parts``, the same on every laptop.

    Two laptops that make the same thing while offline (a visit of one site and day) make one record.
    """
    digest = hashlib.sha256()
    for part in parts:
        encoded = part.encode(errors="surrogatepass")
        digest.update(len(encoded).to_bytes(8, "big") + encoded)
    return digest.hexdigest()[: 2 * ID_BYTES]


def folded_name(name: str) -> str:
    """Return a name as ids are made of it: case, outer blanks and the number of inner ones do not count."""
    return " ".join(name.split()).casefold()

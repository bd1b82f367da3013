"""What comes from a depot is checked before it is taken in: name, checksums, header, and every record."""

from __future__ import annotations

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.records.base import Record, first_fault
from fieldlog.records.kinds import record_models
from fieldlog.store.lines import (
    FORMAT,
    MAX_LINE_BYTES,
    MAX_NAME,
    Header,
    LineError,
    Revision,
    names_fit,
    read_line,
    unframe,
)
from fieldlog.store.sealed import check_sealed, sealed_name

__all__ = ["check_records", "check_sealed_file"]


def check_sealed_file(
    name: str, data: bytes, store_id: str, *, thorough: bool = True
) -> tuple[Header, list[Revision]]:
    """Return header and revisions of a sealed file that may be taken in.

    Raises InputError saying what is wrong: its content does not match its name, a line is damaged,
    it belongs to another store, or a record in it is none. Records of a newer schema pass unread.
    Without ``thorough`` the lines' own checksums and ids are left to the store, which verifies them
    before it keeps the file; the revisions are the same ones.
    """
    if len(data) > MAX_LINE_BYTES and max(map(len, data.split(b"\n"))) > MAX_LINE_BYTES:
        raise InputError(f"{name}: a line is longer than {MAX_LINE_BYTES >> 20} MiB")
    header, revisions = (check_sealed if thorough else _read_sealed)(name, data, store_id)
    check_records(name, revisions)
    return header, revisions


def _read_sealed(name: str, data: bytes, store_id: str) -> tuple[Header, list[Revision]]:
    if sealed_name(data) != name:
        raise InputError(f"{name}: its content does not match its name")
    first, _, rest = data.partition(b"\n")
    try:
        header = Header.read(unframe(first))
        if header.store != store_id or header.format > FORMAT or not rest.endswith(b"\n"):
            return check_sealed(name, data, store_id)  # which has the words for each case
        pool: dict[bytes, str] = {}
        return header, [r for line in rest[:-1].split(b"\n") for r in read_line(line, pool, "nothing")]
    except (LineError, ValueError) as error:
        raise InputError(f"{name}: {error}") from None


def check_records(name: str, revisions: list[Revision]) -> None:
    """Raise InputError naming the first record that is not what its table holds."""
    models = record_models()
    for revision in revisions:
        if not names_fit(revision.table, revision.document):
            raise InputError(
                f"{name}: a table or a record's id is empty or longer than {MAX_NAME} characters"
            )
        model = models.get(revision.table)
        if model is None or revision.raw is None:
            continue  # a table of a newer fieldlog is kept and passed on
        fault = _fault(model, revision)
        if fault:
            raise InputError(f"{name}: {revision.table} {revision.document[:MAX_NAME]}: {fault}")


def _fault(model: type[Record], revision: Revision) -> str:
    body = revision.body
    assert body is not None
    version = body.get("schema_version", 1)
    if isinstance(version, int) and version > model.schema_latest:
        return ""
    if body.get("id") != revision.document:
        return "its id is another one than it is kept under"
    try:
        if isinstance(version, int) and version < model.schema_latest:
            body = model.upgrade(body)
        model.model_validate(body)
    except ValidationError as error:
        return first_fault(error)
    except (ValueError, KeyError, TypeError, AttributeError) as error:  # an upgrade met what it never wrote
        return f"it cannot be read ({type(error).__name__})"
    return ""

"""The line in a PDF that says which sheet it is, and its reading back from any file at all."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from pathlib import Path
from typing import Any, get_args

import orjson

from fieldlog.errors import InputError
from fieldlog.records.issued_sheet import SheetKind

__all__ = ["LARGEST_PDF_BYTES", "mark_pdf", "read_marker"]

LARGEST_PDF_BYTES = 32 << 20
_MARK = b"%fieldlog-sheet "
_TAIL_BYTES = 8192
_TEXTS = ("kind", "number", "date", "digest")
_TEXTS_OF: dict[str, tuple[str, ...]] = dict.fromkeys(get_args(SheetKind), ("visit",)) | {
    "season": ("squad", "first_day", "last_day")
}
_DIGEST = re.compile(r"[0-9a-f]{64}")


def mark_pdf(pdf: bytes, about: dict[str, Any]) -> bytes:
    """Return ``pdf`` with a comment line before its ``startxref``: what the sheet is, and a checksum of the rest.

    A comment there is plain PDF (ISO 32000-1, 7.2.3) and moves no object.
    """
    end = pdf.rindex(b"startxref")
    body = orjson.dumps({**about, "file": _checksum(pdf)}, option=orjson.OPT_SORT_KEYS)
    return pdf[:end] + _MARK + body + b"\n" + pdf[end:]


def read_marker(path: Path) -> dict[str, Any]:
    """Return what the marker of a sheet says.

    Raises InputError where the file cannot be read, is no sheet, or was changed since it was made.
    """
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_PDF_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}", "name a PDF made by fieldlog") from None
    if len(data) > LARGEST_PDF_BYTES:
        raise InputError(
            f"{path}: larger than {LARGEST_PDF_BYTES >> 20} MB, no sheet is", "name a PDF made by fieldlog"
        )
    begin = data.rfind(_MARK, max(0, len(data) - _TAIL_BYTES))
    end = data.find(b"\n", begin)
    if not data.startswith(b"%PDF-") or begin < 0 or end < 0:
        raise InputError(f"{path}: not a sheet made by fieldlog, or saved anew by another program", _HINT)
    marker = _read_body(data[begin + len(_MARK) : end])
    if marker is None:
        raise InputError(f"{path}: the sheet's own mark is damaged", _HINT)
    if marker["file"] != _checksum(data[:begin] + data[end + 1 :]):
        raise InputError(f"{path}: the file was changed after it was made", _HINT)
    return marker


_HINT = "compare the number at its foot with a fresh print"


def _checksum(pdf: bytes) -> str:
    return hashlib.sha256(pdf).hexdigest()


def _read_body(raw: bytes) -> dict[str, Any] | None:
    try:
        body = orjson.loads(raw)
    except orjson.JSONDecodeError:
        return None
    if not isinstance(body, dict) or not all(isinstance(body.get(name), str) for name in (*_TEXTS, "file")):
        return None
    plain = isinstance(body.get("revision"), int) and isinstance(body.get("named"), bool)
    ids = all(body.get(name) is None or isinstance(body[name], str) for name in ("athlete", "rig"))
    known = body["kind"] in _TEXTS_OF and _DIGEST.fullmatch(body["digest"]) is not None
    return body if plain and ids and known and _says_what(body) else None


def _says_what(body: dict[str, Any]) -> bool:
    """Whether it names the visit or the season it is about."""
    texts = _TEXTS_OF[body["kind"]]
    days = [body[name] for name in texts if isinstance(body.get(name), str) and name.endswith("_day")]
    return all(isinstance(body.get(name), str) for name in texts) and all(map(_is_day, days))


def _is_day(text: str) -> bool:
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False

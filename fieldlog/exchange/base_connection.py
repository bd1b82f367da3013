"""Reaching a PostgreSQL server, and telling in one line what stands in the way."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from fieldlog.errors import InputError, StoreError
from fieldlog.exchange.depot import without_password

if TYPE_CHECKING:
    import psycopg

__all__ = ["connect", "reaching"]

CONNECT_TIMEOUT_S = 10


def connect(address: str) -> psycopg.Connection[tuple[Any, ...]]:
    """Connect; each statement is a transaction of its own. InputError without the library."""
    try:
        import psycopg
    except ImportError:
        raise InputError(
            f"{without_password(address)}: the library for PostgreSQL is missing",
            "install it: pip install 'fieldlog[base]'",
        ) from None
    return psycopg.connect(
        address, autocommit=True, connect_timeout=CONNECT_TIMEOUT_S, application_name="fieldlog"
    )


@contextlib.contextmanager
def reaching(address: str) -> Iterator[None]:
    """Turn what the library raises into our errors, without the password."""
    try:
        yield
    except Exception as error:
        if not type(error).__module__.startswith("psycopg"):
            raise
        raise _explained(address, error) from error


def _explained(address: str, error: Exception) -> InputError | StoreError:
    from psycopg import ProgrammingError, errors

    shown = without_password(address)
    text = _first_line(str(error), address) or type(error).__name__
    if isinstance(error, errors.InsufficientPrivilege):
        return StoreError(
            f"{shown}: {text}", "use a login in a role made by 'fieldlog base prepare', or the owner's"
        )
    if isinstance(error, errors.UndefinedTable | errors.InvalidSchemaName):
        return StoreError(f"{shown} is no team base yet", "its owner runs: fieldlog base prepare URL")
    if type(error) is ProgrammingError:
        return InputError(f"{shown}: {text}", "an address looks like postgresql://login@host/database")
    return StoreError(f"{shown}: {text}", "is the server up? what was exchanged so far stands; run it again")


def _first_line(text: str, address: str) -> str:
    with contextlib.suppress(ValueError):
        password = urlsplit(address).password
        for secret in {password, unquote(password)} if password else ():
            text = text.replace(secret, "…")
    return " ".join(text.split("\n")[0].split())[:300]

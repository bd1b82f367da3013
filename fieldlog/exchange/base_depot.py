"""The team base as depot: the same files in PostgreSQL, where rows and views are made of them.

What a name must hold is checked by the base itself, and no role may overwrite anything. A tester's
login sees no persons files: they are brought without looking, and never fetched.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from fieldlog.errors import RefusedError
from fieldlog.exchange.base_connection import connect, reaching
from fieldlog.exchange.depot import LIMIT_BYTES, DepotFile, Kind, Listing, Stamp, without_password

if TYPE_CHECKING:
    import psycopg

__all__ = ["BaseDepot"]


class BaseDepot:
    """A depot in a PostgreSQL database prepared for it."""

    def __init__(self, address: str) -> None:
        """Connect; StoreError where it cannot be reached, is no team base, or the login has no role in it."""
        self.address, self.key_id = without_password(address), ""
        self._given = address
        with reaching(address):
            self._connection: psycopg.Connection[tuple[Any, ...]] = connect(address)
            try:
                self._id = str(self._rows("select id::text from fieldlog.base")[0][0])
            except BaseException:
                self._connection.close()
                raise

    def stores(self) -> list[str]:
        with reaching(self._given):
            return [str(row[0]) for row in self._rows("select id from fieldlog.store order by id")]

    def listing(self, store: str, kind: Kind, since: str = "") -> Listing | None:
        """Return what arrived after the mark ``since``: arrivals of a store are numbered in order."""
        if kind == "persons":
            return self._persons()
        base, _, number = since.partition(" ")
        after = int(number) if base == self._id and number.isdigit() else 0
        with reaching(self._given):
            rows = self._rows(
                "select name, octet_length(body), digest, arrival from fieldlog.file"
                " where store = %s and kind = %s and arrival > %s order by arrival",
                (store, kind, after),
            )
        files = {name: Stamp(size, digest) for name, size, digest, _ in rows}
        last = rows[-1][3] if rows else after
        return Listing(files, f"{self._id} {last}", complete=after == 0)

    def get(self, key: DepotFile) -> Iterator[bytes]:
        """Yield every content held under a name, the latest first."""
        limit = LIMIT_BYTES[key.kind]
        with reaching(self._given):
            if key.kind == "persons":
                rows = self._rows(
                    "select body from fieldlog.person_file where name = %s and octet_length(body) <= %s",
                    (key.name, limit),
                )
            else:
                rows = self._rows(
                    "select body from fieldlog.file where store = %s and kind = %s and name = %s"
                    " and octet_length(body) <= %s order by arrival desc",
                    (key.store, key.kind, key.name, limit),
                )
        for (body,) in rows:
            yield bytes(body)

    def put(self, key: DepotFile, data: bytes) -> Stamp:
        with reaching(self._given):
            if key.kind == "persons":
                self._connection.execute(
                    "insert into fieldlog.person_file (name, body) values (%s, %b) on conflict do nothing",
                    (key.name, data),
                )
            else:
                self._connection.execute(
                    "insert into fieldlog.file (store, kind, name, body) values (%s, %s, %s, %b)"
                    " on conflict do nothing",
                    (*key, data),
                )
        return Stamp(len(data), hashlib.sha256(data).hexdigest())

    def hashes(self, key: DepotFile) -> frozenset[str]:
        with reaching(self._given):
            if key.kind == "persons":
                rows = self._rows(
                    "select encode(sha256(body), 'hex') from fieldlog.person_file where name = %s",
                    (key.name,),
                )
            else:
                # Hashed anew, not read from the column: this is asked where there is doubt.
                rows = self._rows(
                    "select encode(sha256(body), 'hex') from fieldlog.file"
                    " where store = %s and kind = %s and name = %s",
                    key,
                )
        return frozenset(str(row[0]) for row in rows)

    def delete(self, key: DepotFile) -> None:
        """Delete a persons file. Nothing else in the base is ever deleted; a signature holds no person."""
        if key.kind == "persons":
            with reaching(self._given):
                self._connection.execute("delete from fieldlog.person_file where name = %s", (key.name,))

    def read_key(self) -> bytes | None:
        """Return None: a team base reads the records, and has rights of its own."""
        return None

    def write_key(self, data: bytes) -> None:  # noqa: ARG002 (refused whatever it is)
        raise RefusedError(
            "a team base cannot be locked: it has to read the records", "give its logins their rights there"
        )

    def close(self) -> None:
        self._connection.close()

    def _persons(self) -> Listing | None:
        from psycopg.errors import InsufficientPrivilege

        with reaching(self._given):
            try:
                rows = self._rows(
                    "select name, octet_length(body), encode(sha256(body), 'hex') from fieldlog.person_file"
                )
            except InsufficientPrivilege:
                return None
        return Listing({name: Stamp(size, digest) for name, size, digest in rows})

    def _rows(self, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        with self._connection.cursor(binary=True) as cursor:
            cursor.execute(query.encode(), values)
            return cursor.fetchall()

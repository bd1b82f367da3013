"""Making a PostgreSQL database the team base: tables, views and two roles, all of which may be there already."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files

from fieldlog.errors import InputError
from fieldlog.exchange.base_connection import connect, reaching

__all__ = ["ROLES", "SCHEMA", "Prepared", "prepare_base"]

SCHEMA = "fieldlog"
ROLES = ("fieldlog_tester", "fieldlog_lead")
OLDEST_SERVER = 140000
SCRIPTS = ("1_tables.sql", "2_intake.sql", "3_views.sql", "4_roles.sql")


@dataclass(frozen=True)
class Prepared:
    """What a prepared base has."""

    schema: str
    roles: tuple[str, ...]


def prepare_base(address: str) -> Prepared:
    """Make what is missing, in one transaction. Doing it again changes nothing and loses nothing.

    Raises InputError where the address is none or the server is older than PostgreSQL 14, StoreError
    where it cannot be reached or the login may not make tables and roles.
    """
    with reaching(address), connect(address) as connection:
        if connection.info.server_version < OLDEST_SERVER:
            raise InputError("the team base needs PostgreSQL 14 or newer", "update the server")
        with connection.transaction():
            # Two preparations at once would trip over each other's half-made objects.
            connection.execute("select pg_advisory_xact_lock(hashtextextended('fieldlog prepare', 0))")
            for name in SCRIPTS:
                connection.execute(files("fieldlog.exchange").joinpath("sql", name).read_bytes())
    return Prepared(SCHEMA, ROLES)

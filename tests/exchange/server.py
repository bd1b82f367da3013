"""A real PostgreSQL server for tests: one a session, an empty base a test, gone afterwards."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from functools import cache
from pathlib import Path

import psycopg

from fieldlog.exchange.base_depot import BaseDepot
from fieldlog.exchange.base_prepare import prepare_base

DATABASE = "team"
GUARD = """
cat > /dev/null
kill -INT "$(head -n 1 "$1/data/postmaster.pid")" 2> /dev/null
while [ -e "$1/data/postmaster.pid" ] && [ $((waited += 1)) -lt 100 ]; do sleep 0.1; done
rm -rf "$1"
"""


class Server:
    """One server in a folder of its own, reached by a socket in that folder only."""

    def __init__(self, binaries: Path, *, durable: bool = False) -> None:
        self.binaries = binaries
        self.folder = Path(tempfile.mkdtemp(prefix="flpg", dir="/tmp"))
        self.durable = durable
        self.process: subprocess.Popen[bytes] | None = None
        if os.geteuid() == 0:
            shutil.chown(self.folder, self._user)
        self._run(
            "initdb", "-D", str(self.folder / "data"), "-A", "trust", "-U", "owner", "--no-sync", "-E", "UTF8"
        )
        # Whatever becomes of this process, the server ends with it: the guard waits for the end of its input.
        self._guard = subprocess.Popen(["sh", "-c", GUARD, "guard", str(self.folder)], stdin=subprocess.PIPE)
        self.start()

    @property
    def _user(self) -> str | None:
        """The server refuses to run as root."""
        return "nobody" if os.geteuid() == 0 else None

    def url(self, database: str = "postgres", login: str = "owner") -> str:
        return f"postgresql://{login}@/{database}?host={self.folder}"

    def start(self) -> None:
        safety = [] if self.durable else ["-c", "fsync=off", "-c", "full_page_writes=off"]
        self.process = subprocess.Popen(
            [
                self.binaries / "postgres", "-D", self.folder / "data", "-k", self.folder,
                "-c", "listen_addresses=", "-c", "max_connections=50", *safety,
            ],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, user=self._user, cwd=self.folder,
        )  # fmt: skip
        end = time.monotonic() + 30
        while True:
            try:
                psycopg.connect(self.url(), connect_timeout=2).close()
            except psycopg.OperationalError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.02)
            else:
                return

    def kill(self) -> None:
        """End every process of the server at once, as a power cut would."""
        assert self.process is not None
        # An immediate shutdown ends the backends without letting them finish anything.
        self.process.send_signal(signal.SIGQUIT)
        self.process.wait(30)

    def stop(self) -> None:
        assert self.process is not None
        assert self._guard.stdin is not None
        self._guard.stdin.close()
        self.process.wait(30)
        self._guard.wait(30)

    def execute(self, command: str, database: str = "postgres") -> None:
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            connection.execute(command.encode())

    def prepared(self) -> str:
        """Return a prepared base with nothing in it: one database, emptied for each test that asks."""
        if not self._has(DATABASE):
            self.execute(f"create database {DATABASE}")
            prepare_base(self.url(DATABASE))
            self.execute("create role tester login in role fieldlog_tester")
            self.execute("create role lead login in role fieldlog_lead")
            self.execute("create role stranger login")
        tables = (
            "file",
            "person_file",
            "revision",
            "superseded",
            "head",
            "verdict",
            "figure",
            "unread",
            "store",
            "base",
        )
        emptied = "; ".join(f"delete from fieldlog.{table}" for table in tables)
        self.execute(f"{emptied}; insert into fieldlog.base default values", DATABASE)
        return DATABASE

    def _has(self, database: str) -> bool:
        with psycopg.connect(self.url()) as connection:
            found = connection.execute("select from pg_database where datname = %s", (database,))
            return found.fetchone() is not None

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self.binaries / program, *arguments],
            check=True,
            capture_output=True,
            user=self._user,
            cwd=self.folder,
        )


class Base:
    """An empty prepared base for one test, and the depots opened on it."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.name = server.prepared()
        self._open: list[BaseDepot] = []

    def url(self, login: str = "owner") -> str:
        return self.server.url(self.name, login)

    def depot(self, login: str = "tester") -> BaseDepot:
        depot = BaseDepot(self.url(login))
        self._open.append(depot)
        return depot

    def rows(self, query: str, login: str = "owner") -> list[tuple]:
        with psycopg.connect(self.url(login)) as connection:
            return connection.execute(query.encode()).fetchall()

    def execute(self, command: str) -> None:
        self.server.execute(command, self.name)

    def close(self) -> None:
        for depot in self._open:
            depot.close()


def binaries() -> Path | None:
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    installed = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return installed[-1].parent if installed else None


@cache
def session_server() -> Server | None:
    """The one server of this test session, None where PostgreSQL is not installed."""
    place = binaries()
    if place is None:
        return None
    return Server(place)


def need_server() -> Server:
    import pytest  # here, so that the bench can start a server without it

    server = session_server()
    if server is None:
        pytest.skip("PostgreSQL is not installed (no initdb found)")
    return server

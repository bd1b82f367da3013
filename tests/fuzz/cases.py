"""How many cases are tried, a chance for each of them, and what a command may answer."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
from collections import Counter
from collections.abc import Iterator

from fieldlog.cli import main

LONG = bool(os.environ.get("FIELDLOG_LONG"))
MANY = 10_000


def cases(what: str, short: int, many: int = MANY) -> Iterator[tuple[random.Random, str]]:
    """Give a chance and a name for each case: ``short`` of them, ``many`` under ``python -m tests.long``.

    FIELDLOG_CASE=17 tries case 17 alone.
    """
    alone = os.environ.get("FIELDLOG_CASE")
    for number in [int(alone)] if alone else range(many if LONG else short):
        yield random.Random(f"{what} {number}"), f"{what}, case {number}"


def run(*arguments: object) -> tuple[int, str, str]:
    """Run one command in this process; return its status, standard output and standard error."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main._run([str(argument) for argument in arguments])
    return status, out.getvalue(), err.getvalue()


def answer(
    outcome: tuple[int, str, str], where: str, named: str = "", allowed: set[int] | None = None
) -> dict | None:
    """Return the JSON object a command printed, None where it refused; anything else fails the test.

    A refusal is status 2, nothing on standard output, and one line on standard error, naming ``named``.
    """
    status, out, err = outcome
    assert status in (allowed or {0, 1, 2}), (where, outcome)
    if status == 2:
        assert out == "", where
        assert err.count("\n") == 1, (where, err)
        assert err[:-1].isprintable(), (where, err)
        assert named in err, (where, err)
        return None
    assert err == "", (where, err)
    assert out.count("\n") == 1, (where, out)
    body = json.loads(out, parse_constant=lambda word: (_ for _ in ()).throw(AssertionError((where, word))))
    assert isinstance(body, dict), where
    return body


def say(what: str, tally: Counter[str]) -> None:
    """Print the tally where the counts are full (pytest -s shows it)."""
    if LONG:
        print(f"{what}: {sum(tally.values())} cases, {dict(tally)}")

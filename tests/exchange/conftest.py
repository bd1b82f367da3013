"""Laptops and bases for the tests of the exchange."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.exchange.laptops import Laptop
from tests.exchange.server import Base, Server, need_server


@pytest.fixture
def laptop(tmp_path: Path) -> Callable[..., Laptop]:
    """Make a laptop by name."""
    made: list[Laptop] = []

    def make(name: str, **options) -> Laptop:
        one = Laptop(tmp_path / name, **options)
        made.append(one)
        return one

    yield make
    for one in made:
        one.workspace.close()


@pytest.fixture
def server() -> Server:
    return need_server()


@pytest.fixture
def base(server: Server) -> Base:
    made = Base(server)
    yield made
    made.close()


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    return tmp_path / "stick"

"""There is one way to keep a set, and it asks the gate: nobody who is held is tested by another route."""

import ast
from pathlib import Path

import pytest

import fieldlog

ROOT = Path(fieldlog.__file__).parent
MAKES_SETS = "add_set"
ASKS = {"keep_set.py": "gate_of", "sample_visit.py": "may_start"}


def calls_of(path):
    """Names that are called in each function of a module."""
    found = {}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            names = [
                call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
                for call in ast.walk(node)
                if isinstance(call, ast.Call)
            ]
            found[node.name] = names
    return found


def makers():
    for path in sorted(ROOT.rglob("*.py")):
        for function, names in calls_of(path).items():
            if MAKES_SETS in names:
                yield path, function, names


def test_sets_are_made_in_two_places_only():
    assert {path.name for path, _, _ in makers()} == set(ASKS)


@pytest.mark.parametrize(
    ("path", "function", "names"), list(makers()), ids=lambda value: getattr(value, "name", None)
)
def test_whoever_makes_a_set_asks_the_gate_first(path, function, names):
    assert names.index(ASKS[path.name]) < names.index(MAKES_SETS), function


def test_no_screen_and_no_command_writes_a_set_past_the_verbs():
    for path in [*ROOT.joinpath("screens").rglob("*.py"), *ROOT.joinpath("cli").rglob("*.py")]:
        source = path.read_text(encoding="utf-8")
        assert "EffortSet(" not in source, path
        assert "may_start" not in source or path.name in ASKS, path

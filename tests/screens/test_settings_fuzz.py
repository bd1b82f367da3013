"""A damaged settings file sets what it says or is refused in one line; no key ever gets two meanings."""

from __future__ import annotations

import tomllib
from collections import Counter

from fieldlog.errors import InputError
from fieldlog.screens.keys import MEANINGS
from fieldlog.screens.palette import THEMES
from fieldlog.screens.settings import read_settings
from tests.fuzz.cases import cases, say
from tests.fuzz.damage import TEXTS, damaged_bytes

PLAIN = 'theme = "high contrast"\nascii_only = true\n\n[keys]\nnote = "f2"\n'
LINES = (
    "theme = 5", "theme = []", 'theme = ""', "ascii_only = 1", 'ascii_only = "true"', "ascii_only = false", "[keys]",
    "[keys.note]", "keys = 3", 'note = "n"', 'note = "q"', 'note = "ctrl+i"', "note = 2", "note = ['a']", 'help = "f3"',
    '"\\u001b" = 1', "x = 1979-05-27T07:32:00Z", "x = nan", "x = 0x10", "a.b.c = 1", "x = [" + "[" * 2000 + "]" * 2000 + "]",
    "note = '''\nf2'''", "# ü", "=", "[[keys]]", 'theme = "plain"', "x = " + "9" * 5000,
)  # fmt: skip


def test_a_damaged_settings_file_sets_what_it_says_or_is_refused_in_one_line(tmp_path):
    file, tally = tmp_path / "settings.toml", Counter()
    for chance, where in cases("damaged settings", 300):
        if chance.random() < 0.4:
            data = damaged_bytes(chance, PLAIN.encode())
        else:
            lines = PLAIN.splitlines()
            for _ in range(chance.choice((1, 1, 2, 4))):
                at = chance.randrange(len(lines) + 1)
                text = chance.choice((*LINES, f'{chance.choice(list(MEANINGS))} = "{chance.choice(TEXTS)}"'))
                lines[at : at + chance.randrange(2)] = [text]
            data = "\n".join(lines).encode()
        file.write_bytes(data)
        refusal = None
        try:
            found = read_settings(file)
        except InputError as error:
            refusal = error
        if refusal is not None:
            assert str(refusal).startswith(str(file)), where
            assert str(refusal).isprintable(), where
            assert len(str(refusal)) < 1000, where
            assert refusal.hint, where
            tally["refused"] += 1
            continue
        tally["taken"] += 1
        told = tomllib.loads(data.decode())
        assert found.theme in {theme.name for theme in THEMES}, where
        assert found.ascii_only is told.get("ascii_only", False), where
        assert dict(found.keys) == told.get("keys", {}), where
        meant = [found.keys.get(name, meaning.key) for name, meaning in MEANINGS.items()]
        assert all(meant.count(key) == 1 for key in found.keys.values()), where
    assert tally["taken"]
    assert tally["refused"]
    say("damaged settings", tally)

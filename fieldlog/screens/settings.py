"""What a person sets for this laptop: colours, characters, keys, units. Each fault is named with its line."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fieldlog.date_words import DATE_ORDERS
from fieldlog.errors import InputError
from fieldlog.screens.keys import MEANINGS
from fieldlog.screens.palette import DEFAULT_THEME, THEMES
from fieldlog.screens.words import DECIMAL_SIGNS, MASS_UNITS, TORQUE_UNITS, Shown

__all__ = ["CHOICES", "Settings", "read_settings", "settings_path"]

# What is chosen from a few words; the first is what holds where nothing is set.
CHOICES: Mapping[str, tuple[str, ...]] = {
    "theme": tuple(theme.name for theme in THEMES),
    "decimal_sign": DECIMAL_SIGNS,
    "date_order": DATE_ORDERS,
    "torque_unit": tuple(TORQUE_UNITS),
    "mass_unit": tuple(MASS_UNITS),
}
_NAMES = (*CHOICES, "ascii_only", "keys")

_KEY = re.compile(r"(ctrl\+|shift\+|alt\+)*([!-~]|[a-z_]+[0-9]*|f[0-9]{1,2})")
_TAKEN_BY_TERMINALS = frozenset(f"ctrl+{letter}" for letter in "ijmhsqz")


@dataclass(frozen=True)
class Settings:
    """The settings of this laptop; ``keys`` maps what a key means to the key."""

    theme: str = DEFAULT_THEME
    ascii_only: bool = False
    keys: Mapping[str, str] = field(default_factory=dict)
    shown: Shown = field(default_factory=Shown)


def settings_path() -> Path:
    """Return where the settings lie: FIELDLOG_SETTINGS, else the platform's folder for them."""
    named = os.environ.get("FIELDLOG_SETTINGS")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_config_path

    return user_config_path("fieldlog", appauthor=False) / "settings.toml"


def read_settings(path: Path) -> Settings:
    """Read the settings; a file that is not there sets nothing.

    ``theme = "high contrast"``, ``ascii_only = true``, ``decimal_sign = ","``, ``date_order = "year first"``,
    ``torque_unit = "lbf·ft"``, ``mass_unit = "lb"``, and under ``[keys]`` lines such as ``note = "f2"``.
    Raises InputError naming the file and the line of the first fault.
    """
    try:
        text = path.read_bytes().decode()
    except FileNotFoundError:
        return Settings()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read ({error})", "save it as UTF-8 text, or remove it") from None
    try:
        body = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: {error}", "correct that line, or remove the file") from None
    except (RecursionError, ValueError):
        raise InputError(f"{path}: nested or written beyond reason", "remove the file") from None
    return _checked(path, text, body)


def _checked(path: Path, text: str, body: Mapping[str, Any]) -> Settings:
    def wrong(name: str, what: str, hint: str) -> InputError:
        return InputError(f"{path}, line {_line_of(text, name)}: {what}", hint)

    for name in body:
        if name not in _NAMES:
            hint = "there are " + ", ".join(name for name in _NAMES if name != "keys") + " and [keys]"
            raise wrong(name, f"there is no setting {name!r}", hint)
    chosen = {name: body.get(name, choices[0]) for name, choices in CHOICES.items()}
    for name, choice in chosen.items():
        if choice not in CHOICES[name]:
            what = f"there is no {name.replace('_', ' ')} {choice!r}"
            raise wrong(name, what, f"choose one of {', '.join(map(repr, CHOICES[name]))}")
    ascii_only = body.get("ascii_only", False)
    if not isinstance(ascii_only, bool):
        raise wrong("ascii_only", f"{ascii_only!r} is neither true nor false", "write true or false")
    keys = body.get("keys", {})
    if not isinstance(keys, dict):
        raise wrong("keys", "keys is no table", 'write [keys], then lines such as note = "f2"')
    _check_keys(keys, wrong)
    theme = chosen.pop("theme")
    return Settings(theme=theme, ascii_only=ascii_only, keys=keys, shown=Shown(**chosen))


def _check_keys(keys: Mapping[str, Any], wrong: Any) -> None:
    for name, key in keys.items():
        if name not in MEANINGS:
            raise wrong(name, f"no key means {name!r}", f"there are {', '.join(sorted(MEANINGS))}")
        if not isinstance(key, str) or not _KEY.fullmatch(key):
            raise wrong(name, f"{key!r} is no key", 'write a letter, or a name such as "f2" or "ctrl+n"')
        if key in _TAKEN_BY_TERMINALS:
            raise wrong(name, f"terminals keep {key} for themselves", "choose another key")
    letters = {name: keys.get(name, meaning.key) for name, meaning in MEANINGS.items()}
    for name, key in keys.items():
        others = [other for other, taken in letters.items() if taken == key and other != name]
        if others:
            raise wrong(name, f"{key} already means {MEANINGS[others[0]].word!r}", "one key has one meaning")


def _line_of(text: str, name: str) -> int:
    pattern = re.compile(rf"\s*(\[\s*)?[\"']?{re.escape(name)}[\"']?\s*[\]=.]")
    return next((number for number, line in enumerate(text.splitlines(), start=1) if pattern.match(line)), 1)

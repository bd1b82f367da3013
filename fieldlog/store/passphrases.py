"""What a passphrase must be, for a locked workspace and for a locked depot."""

from __future__ import annotations

from fieldlog.errors import InputError

__all__ = ["check_passphrase"]

SHORTEST = 8


def check_passphrase(passphrase: str) -> None:
    """Raise InputError for a passphrase under 8 characters."""
    if len(passphrase) < SHORTEST:
        raise InputError(f"the passphrase is shorter than {SHORTEST} characters", "choose a longer one")

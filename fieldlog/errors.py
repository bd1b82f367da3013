"""The one error tree.

Every error a person may meet carries the message they read and the hint what to do.
Only the command line knows exit statuses; screens show ``str(error)``.

    FieldlogError
    ├── InputError          a file, a field or a call is wrong
    │   └── NotFoundError   a name or id that nothing answers to
    ├── RefusedError        the input is fine, a rule of the work forbids the step
    └── StoreError          the disk or a store does not do what was asked
        ├── SaveError       a record could not be made durable; nothing was changed
        ├── ConflictError   the record was changed since the caller saw it
        └── NewerSchemaError  the record needs a newer fieldlog
"""

from __future__ import annotations

__all__ = [
    "ConflictError",
    "FieldlogError",
    "InputError",
    "NewerSchemaError",
    "NotFoundError",
    "RefusedError",
    "SaveError",
    "StoreError",
]


class FieldlogError(Exception):
    """Root of every error fieldlog raises on purpose.

    ``message`` says what is wrong and where (file, line or field), ``hint`` what to do.
    ``str()`` is one line: control characters and line ends of hostile input are shown as spaces.
    """

    def __init__(self, message: str, hint: str = "") -> None:
        self.message = _one_line(message)
        self.hint = _one_line(hint)
        super().__init__(self.message)

    def __str__(self) -> str:
        return f"{self.message}; {self.hint}" if self.hint else self.message


class InputError(FieldlogError):
    """A file, a field or a call is wrong."""


class NotFoundError(InputError):
    """A name or id that nothing answers to."""


class RefusedError(FieldlogError):
    """The input is fine, but a rule of the work forbids the step."""


class StoreError(FieldlogError):
    """The disk or a store does not do what was asked."""


class SaveError(StoreError):
    """A record could not be made durable; disk and memory are as before."""


class ConflictError(StoreError):
    """The record was changed by somebody else since the caller saw it."""


class NewerSchemaError(StoreError):
    """The record was written by a newer fieldlog and is kept as it is."""


def _one_line(text: str) -> str:
    return "".join(character if character.isprintable() else " " for character in text).strip()

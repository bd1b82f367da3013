"""A laptop that the team admits: from the first one on, files of laptops not admitted are set aside."""

from __future__ import annotations

import hashlib
from typing import ClassVar

from pydantic import Field

from fieldlog.records.base import ID_BYTES, Home, Record

__all__ = ["Laptop", "fingerprint"]


class Laptop(Record):
    """An admitted laptop. The id is the fingerprint of the key it signs with."""

    table: ClassVar[str] = "laptops"
    home: ClassVar[Home] = "team"

    device: str = Field(min_length=1, max_length=200)
    name: str = Field(min_length=1, max_length=80)
    public_key: str = Field(pattern=r"^[0-9a-f]{64}$")


def fingerprint(public_key: str) -> str:
    """Return the short name of a public key (hexadecimal): what two people read to each other."""
    return hashlib.sha256(bytes.fromhex(public_key)).hexdigest()[: 2 * ID_BYTES]

"""Each laptop signs what it seals, so that nobody else can pass a file off as the team's.

A signature (Ed25519) lies beside the file it is about, in a small JSON file of its own, so that the
sealed file's content and name stay what they are. The key is made per workspace: laptops cloned
from one image share it, which does no harm, for identity is content. The library that signs is
loaded only when something is to be signed or checked.
"""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from fieldlog.errors import InputError, StoreError
from fieldlog.exchange.depot import DepotFile
from fieldlog.records.laptop import fingerprint
from fieldlog.store.journal import save_error

__all__ = ["LAPTOP_KEY_FILE", "LaptopKey", "Signature", "read_signature", "signature_name"]

LAPTOP_KEY_FILE = "key.json"
FORMAT = 1
SEED_BYTES = 32
NAME_CHARACTERS = 80
SIGNED = ("store", "kind", "name", "device", "laptop", "public_key")


class Signature(NamedTuple):
    """Who vouches for a file: the laptop's id in the workspace, its name for people, its key."""

    store: str
    kind: str
    name: str
    device: str
    laptop: str
    public_key: str
    signature: str

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.public_key)

    def data(self) -> bytes:
        """Return the file that travels beside the signed one."""
        return orjson.dumps({"format": FORMAT, **self._asdict()}) + b"\n"

    def fits(self, key: DepotFile) -> bool:
        """Tell whether this is a true signature about that file."""
        if (self.store, self.kind, self.name) != key:
            return False
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

        try:
            public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.public_key))
            public.verify(bytes.fromhex(self.signature), _message(self._asdict()))
        except (InvalidSignature, ValueError):
            return False
        return True


class LaptopKey:
    """The key of a workspace. Made when it is first needed; never leaves the laptop."""

    def __init__(
        self, folder: Path, device: str, *, random_bytes: Callable[[int], bytes] = os.urandom
    ) -> None:
        self._device = device
        self._seed = _read_or_make(folder / LAPTOP_KEY_FILE, random_bytes)
        _require_library()
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        self._key = Ed25519PrivateKey.from_private_bytes(self._seed)
        self.public_key = self._key.public_key().public_bytes_raw().hex()
        self.laptop = laptop_name()

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.public_key)

    def sign(self, key: DepotFile) -> Signature:
        fields = {
            "store": key.store,
            "kind": key.kind,
            "name": key.name,
            "device": self._device,
            "laptop": self.laptop,
            "public_key": self.public_key,
        }
        return Signature(**fields, signature=self._key.sign(_message(fields)).hex())


def signature_name(name: str) -> str:
    """Return the name of the signature file about a file."""
    return name.partition(".")[0] + ".json"


def read_signature(data: bytes) -> Signature | None:
    """Return what a signature file says, None where it is none or not whole."""
    try:
        body = orjson.loads(data)
        fields = {name: body[name] for name in Signature._fields}
    except (ValueError, KeyError, TypeError):
        return None
    if not all(isinstance(value, str) for value in fields.values()) or body.get("format") != FORMAT:
        return None
    if len(fields["laptop"]) > NAME_CHARACTERS or len(fields["public_key"]) != 2 * SEED_BYTES:
        return None
    try:
        bytes.fromhex(fields["public_key"])
    except ValueError:
        return None
    return Signature(**fields)


def laptop_name() -> str:
    """Return this laptop's name for people: FIELDLOG_LAPTOP, else the name the system gives it."""
    named = os.environ.get("FIELDLOG_LAPTOP") or platform.node().partition(".")[0] or "laptop"
    shown = "".join(character if character.isprintable() else " " for character in named)
    return " ".join(shown.split())[:NAME_CHARACTERS] or "laptop"


def _message(fields: Mapping[str, Any]) -> bytes:
    return b"fieldlog laptop signature 1\n" + orjson.dumps([fields[name] for name in SIGNED])


def _read_or_make(path: Path, random_bytes: Callable[[int], bytes]) -> bytes:
    try:
        return _read_key(path)
    except FileNotFoundError:
        pass
    seed = random_bytes(SEED_BYTES)
    try:
        path.parent.mkdir(exist_ok=True)
        # Readable by this user alone; an existing file is another process's, made just now.
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _read_key(path)
    except OSError as error:
        raise save_error(path, error) from error
    with os.fdopen(descriptor, "wb") as file:
        file.write(orjson.dumps({"format": FORMAT, "seed": seed.hex()}) + b"\n")
        file.flush()
        os.fsync(file.fileno())
    return seed


def _read_key(path: Path) -> bytes:
    try:
        seed = bytes.fromhex(orjson.loads(path.read_bytes())["seed"])
    except FileNotFoundError:
        raise
    except (OSError, ValueError, KeyError, TypeError):
        seed = b""
    if len(seed) != SEED_BYTES:
        raise StoreError(
            f"{path}: this laptop's key is damaged",
            "restore it from a backup, or delete it: a new one is made, to be admitted anew",
        )
    return seed


def _require_library() -> None:
    try:
        import cryptography  # noqa: F401 (only asked for)
    except ImportError:
        raise InputError(
            "the library that signs files is missing", "install it: pip install cryptography"
        ) from None

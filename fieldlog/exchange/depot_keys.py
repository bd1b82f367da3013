"""The key of a locked depot: made once, opened with a passphrase or the recovery key, kept by each laptop.

A stick that is lost shall tell its finder nothing. The depot's own random key lies in the depot under
two wrappings, one for a passphrase (scrypt, RFC 7914) and one for a recovery key on paper; a laptop
that has opened it keeps it in its workspace, so that a sync asks nobody. The laptop also keeps the
wrapped key as it lay in the depot: where that file is lost, the next sync puts it back.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import InputError, NewerSchemaError, StoreError
from fieldlog.exchange.notes import EXCHANGE
from fieldlog.store.disk import Disk
from fieldlog.store.journal import save_error
from fieldlog.store.passphrases import check_passphrase

__all__ = ["DepotKey", "keep", "kept_keys", "new_key", "open_key", "read_id"]

FORMAT = 1
KEY_BYTES, NONCE_BYTES, TAG_BYTES, RECOVERY_BYTES, SALT_BYTES = 32, 12, 16, 20, 16
WRAPPED_BYTES = NONCE_BYTES + KEY_BYTES + TAG_BYTES
SCRYPT_N = 1 << 17
LARGEST_N = 1 << 18  # 256 MiB: a crafted file must not make a small laptop run out of memory
KEPT = "key-"


@dataclass(frozen=True)
class DepotKey:
    """A depot's key: its name, the secret itself, and the file that lies wrapped in the depot."""

    id: str
    secret: bytes
    file: bytes
    addresses: tuple[str, ...] = ()


def new_key(passphrase: str) -> tuple[DepotKey, str]:
    """Make a key and the recovery key that opens it too, which is kept nowhere.

    Raises InputError for a passphrase under 8 characters.
    """
    check_passphrase(passphrase)
    identity, secret = secrets.token_hex(12), secrets.token_bytes(KEY_BYTES)
    recovery, salt = secrets.token_bytes(RECOVERY_BYTES), secrets.token_bytes(SALT_BYTES)
    body = {
        "format": FORMAT,
        "about": "The files in this depot are locked. Open it with: fieldlog unlock --depot ADDRESS",
        "id": identity,
        "scrypt_n": SCRYPT_N,
        "salt": _text(salt),
        "by_passphrase": _text(_wrap(_stretched(passphrase, salt, SCRYPT_N), secret, identity)),
        "by_recovery": _text(_wrap(_derived(recovery, salt), secret, identity)),
    }
    spelled = base64.b32encode(recovery).decode()
    shown = "-".join(spelled[start : start + 4] for start in range(0, len(spelled), 4))
    return DepotKey(identity, secret, orjson.dumps(body, option=orjson.OPT_INDENT_2) + b"\n"), shown


def read_id(file: bytes) -> str:
    """Return which key a depot's key file is of.

    Raises StoreError where it is damaged, NewerSchemaError where a newer fieldlog wrote it.
    """
    return str(_body(file)["id"])


def open_key(file: bytes, secret: str) -> DepotKey:
    """Open a depot's key file with its passphrase or its recovery key.

    Raises InputError where neither fits, StoreError where the file is damaged.
    """
    from cryptography.exceptions import InvalidTag

    body = _body(file)
    identity, salt = str(body["id"]), _bytes(body["salt"])
    secret = secret.strip()
    recovery = _recovery(secret)
    if recovery is not None:
        with contextlib.suppress(InvalidTag):
            wrapped = _bytes(body["by_recovery"])
            return DepotKey(identity, _unwrap(_derived(recovery, salt), wrapped, identity), file)
    with contextlib.suppress(InvalidTag):
        wrapping = _stretched(secret, salt, int(body["scrypt_n"]))
        return DepotKey(identity, _unwrap(wrapping, _bytes(body["by_passphrase"]), identity), file)
    raise InputError("neither the passphrase nor the recovery key of this depot", "try again")


def keep(workspace: Path, key: DepotKey, address: str, disk: Disk) -> None:
    """Keep an opened key in the workspace, with the address it was met at; SaveError where it cannot be.

    Only this user may read it, as the key this laptop signs with.
    """
    addresses = sorted({*key.addresses, address})
    body = {
        "format": FORMAT,
        "id": key.id,
        "secret": _text(key.secret),
        "file": _text(key.file),
        "addresses": addresses,
    }
    path = workspace / EXCHANGE / f"{KEPT}{key.id}.json"
    try:
        disk.write_file(path, orjson.dumps(body))
        path.chmod(0o600)
    except OSError as error:
        raise save_error(path, error) from error


def kept_keys(workspace: Path, disk: Disk) -> Iterator[DepotKey]:
    """Yield the keys this laptop has opened; a damaged one is left out and asked for again."""
    for name in disk.names(workspace / EXCHANGE):
        if name.startswith(KEPT) and name.endswith(".json"):
            with contextlib.suppress(OSError, ValueError, KeyError, TypeError, StoreError):
                body = orjson.loads(disk.read_file(workspace / EXCHANGE / name))
                secret, file = _bytes(body["secret"]), _bytes(body["file"])
                if len(secret) == KEY_BYTES and read_id(file) == body["id"]:
                    yield DepotKey(body["id"], secret, file, tuple(map(str, body["addresses"])))


def _body(file: bytes) -> dict[str, Any]:
    damaged = StoreError("the depot's key file is damaged", "sync from a laptop that has opened this depot")
    try:
        body = orjson.loads(file)
        layout = body["format"]
        known = {"id", "salt", "by_passphrase", "by_recovery", "scrypt_n"} <= body.keys()
    except (ValueError, KeyError, TypeError, AttributeError):
        raise damaged from None
    if isinstance(layout, int) and layout > FORMAT:
        raise NewerSchemaError("this depot was locked by a newer fieldlog", "use that one, or a newer one")
    if not known or not isinstance(body["id"], str) or not body["id"].isalnum():
        raise damaged
    n = body["scrypt_n"]
    if not isinstance(n, int) or not 1 < n <= LARGEST_N or n & (n - 1):
        raise damaged
    try:
        lengths = [len(_bytes(body[name])) for name in ("salt", "by_passphrase", "by_recovery")]
    except (TypeError, ValueError):
        raise damaged from None
    if lengths != [SALT_BYTES, WRAPPED_BYTES, WRAPPED_BYTES]:
        raise damaged
    return dict(body)


def _recovery(typed: str) -> bytes | None:
    spelled = typed.replace("-", "").replace(" ", "").upper()
    with contextlib.suppress(binascii.Error, ValueError):
        found = base64.b32decode(spelled)
        return found if len(found) == RECOVERY_BYTES else None
    return None


def _stretched(passphrase: str, salt: bytes, n: int) -> bytes:
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return Scrypt(salt=salt, length=KEY_BYTES, n=n, r=8, p=1).derive(
        passphrase.encode(errors="surrogatepass")
    )


def _derived(recovery: bytes, salt: bytes) -> bytes:
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    return HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=salt, info=b"fieldlog depot").derive(recovery)


def _wrap(wrapping: bytes, secret: bytes, identity: str) -> bytes:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    nonce = secrets.token_bytes(NONCE_BYTES)
    return nonce + ChaCha20Poly1305(wrapping).encrypt(nonce, secret, identity.encode())


def _unwrap(wrapping: bytes, wrapped: bytes, identity: str) -> bytes:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    nonce, sealed = wrapped[:NONCE_BYTES], wrapped[NONCE_BYTES:]
    return ChaCha20Poly1305(wrapping).decrypt(nonce, sealed, identity.encode())


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()


def _bytes(text: str) -> bytes:
    return base64.b64decode(text, validate=True)

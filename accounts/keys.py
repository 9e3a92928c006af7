"""Keys in files outside the database, made when first needed.

The company's signing key (Ed25519, RFC 8032), and the keys of the chain over the journal (HMAC, RFC 2104).
"""

from __future__ import annotations

import hashlib
import os
import secrets
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)
from django.conf import settings

from inspection.foundation.refusals import Refused


def _folder() -> Path:
    return Path(settings.VAR_DIR) / "keys"


def _path() -> Path:
    return _folder() / "evidence-ed25519.pem"


def signing_key() -> Ed25519PrivateKey:
    """The key, readable by the platform's own user only. Raises Refused when the file holds something else."""
    path = _path()
    if not path.exists():
        _make(path)
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except ValueError:
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        raise Refused(f"The signing key {path.name} cannot be read; restore it from the backup.")
    return key


def public_pem() -> bytes:
    return signing_key().public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


def chain_keys() -> dict[str, bytes]:
    """Every key of the chain by its name, the newest last; empty when none was made, or the file is gone."""
    path = _folder() / "journal-chain.keys"
    if not path.exists():
        return {}
    try:
        return {name: bytes.fromhex(key) for name, key in (line.split() for line in path.read_text().splitlines())}
    except ValueError:
        raise Refused(f"The keys in {path.name} cannot be read; restore them from the backup.") from None


def chain_key() -> tuple[str, bytes]:
    """Name and key with which the next links are made."""
    if not chain_keys():
        _write_once(_folder() / "journal-chain.keys", _new_chain_key())
    return list(chain_keys().items())[-1]


def renew_chain_key() -> str:
    """Make the next links with a new key; its name. The old ones stay, for the links made with them."""
    path, line = _folder() / "journal-chain.keys", _new_chain_key()
    if not chain_keys():
        _write_once(path, line)
    else:
        aside = path.with_suffix(f".{os.getpid()}")
        _write(aside, path.read_bytes() + line)
        aside.replace(path)
    return chain_key()[0]


def _new_chain_key() -> bytes:
    key = secrets.token_bytes(32)
    return f"{hashlib.sha256(key).hexdigest()[:12]} {key.hex()}\n".encode()


def _make(path: Path) -> None:
    _write_once(path, Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


def _write_once(path: Path, content: bytes) -> None:
    """Written aside and then linked into place, so that of two who make it at once both end with the first one."""
    aside = path.with_suffix(f".{os.getpid()}")
    _write(aside, content)
    try:
        os.link(aside, path)
    except FileExistsError:
        pass
    finally:
        aside.unlink()


def _write(path: Path, content: bytes) -> None:
    """For the platform's own user only."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)

"""The company's signing key: Ed25519 (RFC 8032), in a file outside the database, made when first needed."""

from __future__ import annotations

import os
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

from accounts.refusals import Refused


def _path() -> Path:
    return Path(settings.VAR_DIR) / "keys" / "evidence-ed25519.pem"


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


def _make(path: Path) -> None:
    """Written aside and then linked into place, so that of two who make it at once both end with the first one."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    pem = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    aside = path.with_suffix(f".{os.getpid()}")
    descriptor = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(pem)
    try:
        os.link(aside, path)
    except FileExistsError:
        pass
    finally:
        aside.unlink()

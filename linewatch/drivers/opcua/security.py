"""Certificates and secrets: read, checked and handed over, never logged.

Rule 1: a secret comes from the environment or from a file that only its owner can read.
Rule 2: with security, one certificate is trusted: the one that a person put there.
Rule 3: no text that leaves this module holds a secret, error texts included.
"""

from __future__ import annotations

import hashlib
import os
import socket
import stat
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from linewatch.core.errors import LinkLost

APPLICATION_URI = f"urn:{socket.gethostname()}:linewatch"


@dataclass(frozen=True, slots=True)
class Secrets:
    """A user and a password."""

    user: str
    password: str

    def __repr__(self) -> str:
        return "Secrets(…)"


def _faulty(link: str, doing: str, happened: str) -> LinkLost:
    """Return an error that waiting will not cure: a person must act."""
    return LinkLost(link, doing, happened, lasting=True)


def secrets_of(link: str, where: str | None) -> Secrets | None:
    """Return user and password from where the configuration says they are.

    Raises:
        LinkLost: they are not there, or others can read them.
    """
    if where is None:
        return None
    if where.startswith("env:"):
        name = where.removeprefix("env:")
        text = os.environ.get(name)
        if text is None:
            raise _faulty(link, "reading the secrets", f"{name} is not set in the environment")
    else:
        text = _owners_text(link, Path(where))
    user, colon, password = text.strip().partition(":")
    if not user or not colon:
        raise _faulty(link, "reading the secrets", f'{where} does not hold "user:password"')
    return Secrets(user, password)


def _owners_text(link: str, file: Path) -> str:
    doing = "reading the secrets"
    try:
        with file.open(encoding="utf-8") as opened:
            mode = os.fstat(opened.fileno()).st_mode
            if os.name != "nt" and mode & (stat.S_IRWXG | stat.S_IRWXO):
                remedy = f"others may read {file}; take their rights away: chmod 600"
                raise _faulty(link, doing, remedy)
            return opened.read(4096)
    except (OSError, UnicodeDecodeError) as error:
        if isinstance(error, LinkLost):
            raise
        raise _faulty(link, doing, f"{file} cannot be read: {_reason(error)}") from None


def _reason(error: Exception) -> str:
    return (error.strerror or "") if isinstance(error, OSError) else "it is no text"


def trusted_certificate(link: str, file: str | None) -> bytes | None:
    """Return the pinned certificate of the server as DER.

    Raises:
        LinkLost: there is no such file, or no certificate in it.
    """
    if file is None:
        return None
    doing = "reading the server's trusted certificate"
    try:
        content = Path(file).read_bytes()
    except OSError as error:
        raise _faulty(link, doing, f"{file} cannot be read: {_reason(error)}") from error
    try:
        if content.lstrip().startswith(b"-----BEGIN"):
            return x509.load_pem_x509_certificate(content).public_bytes(Encoding.DER)
        return x509.load_der_x509_certificate(content).public_bytes(Encoding.DER)
    except ValueError:
        raise _faulty(link, doing, f"{file} holds no certificate") from None


def fingerprint(certificate: bytes) -> str:
    """Return the SHA-256 of a DER certificate as people compare it: pairs of hex digits."""
    return hashlib.sha256(certificate).digest().hex(":").upper()


def own_files(certificate: str | None, key: str | None) -> tuple[Path, Path]:
    """Return where our own certificate and its key lie; the folder is its owner's alone."""
    if certificate is not None and key is not None:
        return Path(certificate), Path(key)
    folder = platformdirs.user_data_path("linewatch") / "opcua"
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    with suppress(OSError):
        folder.chmod(0o700)
    return folder / "own.der", folder / "own.pem"

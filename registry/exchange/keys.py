"""The grower's key: Ed25519 (RFC 8032), kept in a file of its own and never in the registry.

The `cryptography` library signs and checks: it is widely used and kept up, works on every system
without another program beside it, and is what signed papers for other growers need as well;
`ssh-keygen -Y` would have to be installed, and wants a list of its own of who may sign. It is an
optional part, since a registry works without it.

The private key is PKCS #8 in PEM (RFC 5958, RFC 7468), sealed with a passphrase if one is given,
in a file that only its owner may read. The public one stands beside it.
"""

from __future__ import annotations

import base64
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.domain.canonical import canonical, signable
from registry.errors import (
    FileUnwritable,
    KeyExists,
    KeyMissing,
    KeyUnreadable,
    SigningNotInstalled,
)

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ALGORITHM = "Ed25519"
"""The name of the algorithm (RFC 9864); no other is accepted."""

PUBLIC = ".pub"
"""What is added to a key's name for its public half."""


def _library() -> Any:
    """The parts of the library that are used.

    Raises:
        SigningNotInstalled: it is not there.
    """
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError as error:
        raise SigningNotInstalled from error
    return ed25519


def make(path: Path, passphrase: str | None) -> str:
    """Make a key at `path`; gives its public half as `public_of` does.

    Raises:
        KeyExists: something stands there.
        FileUnwritable: it cannot be written.
        SigningNotInstalled: the library is not there.
    """
    key = _library().Ed25519PrivateKey.generate()
    from cryptography.hazmat.primitives import serialization as forms

    sealing: forms.KeySerializationEncryption = (
        forms.BestAvailableEncryption(passphrase.encode()) if passphrase else forms.NoEncryption()
    )
    pem = key.private_bytes(forms.Encoding.PEM, forms.PrivateFormat.PKCS8, sealing)
    public = public_of(key)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Never over another key, and never readable by others, not even for a moment.
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(pem)
            file.flush()
            os.fsync(file.fileno())
        path.with_name(path.name + PUBLIC).write_text(f"{public}\n")
    except FileExistsError as error:
        raise KeyExists(path) from error
    except OSError as error:
        raise FileUnwritable(path, error.strerror or str(error)) from error
    return public


def is_sealed(path: Path) -> bool:
    """Whether a key needs its passphrase.

    Raises:
        KeyMissing, KeyUnreadable: there is none that can be used.
    """
    return b"ENCRYPTED" in _read(path)


def load(path: Path, passphrase: str | None) -> Ed25519PrivateKey:
    """The private key at `path`.

    Raises:
        KeyMissing, KeyUnreadable: there is none that can be used; or the passphrase is another.
        SigningNotInstalled: the library is not there.
    """
    _library()
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    pem = _read(path)
    sealed = b"ENCRYPTED" in pem
    try:
        key = load_pem_private_key(pem, passphrase.encode() if sealed and passphrase else None)
    except (ValueError, TypeError) as error:
        raise KeyUnreadable(path, locked=sealed) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise KeyUnreadable(path)
    return key


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        raise KeyMissing(path) from error
    except OSError as error:
        raise KeyUnreadable(path) from error


def public_beside(path: Path) -> str | None:
    """The public half that stands beside the key at `path`, if it does."""
    try:
        return path.with_name(path.name + PUBLIC).read_text().strip()
    except OSError:
        return None


def public_of(key: Ed25519PrivateKey) -> str:
    """The public half of a key: 32 bytes in base64url without padding (RFC 8037, section 2)."""
    return as_text(key.public_key().public_bytes_raw())


def thumbprint(public: str) -> str:
    """The name of a public key that can be compared by eye: RFC 7638, as in RFC 8037, A.3.

    >>> thumbprint("11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo")
    'kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k'
    """
    import hashlib

    required = canonical({"crv": ALGORITHM, "kty": "OKP", "x": public})
    return as_text(hashlib.sha256(required.encode()).digest())


def sign(key: Ed25519PrivateKey, tag: str, statement: dict[str, Any]) -> dict[str, str]:
    """A signature of a statement, as it stands beside it in a file.

    What is signed is the tag, a line feed, and the statement in canonical form (RFC 8785), so that
    no signature of one kind of paper passes for one of another.
    """
    public = public_of(key)
    return {
        "alg": ALGORITHM,
        "key": public,
        "kid": thumbprint(public),
        "sig": as_text(key.sign(_signed_bytes(tag, statement))),
    }


def is_signed(tag: str, statement: dict[str, Any], signature: dict[str, Any]) -> bool:
    """Whether a signature holds for a statement.

    Raises:
        SigningNotInstalled: the library is not there.
    """
    kind = _library().Ed25519PublicKey
    from cryptography.exceptions import InvalidSignature

    public, sig = signature.get("key"), signature.get("sig")
    if signature.get("alg") != ALGORITHM or not isinstance(public, str) or not isinstance(sig, str):
        return False
    if signature.get("kid") != thumbprint(public):
        return False
    try:
        kind.from_public_bytes(from_text(public)).verify(
            from_text(sig), _signed_bytes(tag, statement)
        )
    except (InvalidSignature, ValueError):
        return False
    return True


def _signed_bytes(tag: str, statement: dict[str, Any]) -> bytes:
    return tag.encode("ascii") + b"\n" + signable(statement)


def as_text(data: bytes) -> str:
    """Bytes in base64url without padding (RFC 7515, section 2)."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def from_text(text: str) -> bytes:
    """Bytes from base64url without padding.

    Raises:
        ValueError: it is not that.
    """
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)

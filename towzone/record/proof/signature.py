"""Detached signatures of records: Ed25519 (RFC 8032) over the bytes of the file, nothing around them.

They say what a digest cannot: that whoever holds the key made the file, or at least saw it. The library
`cryptography` is optional and imported only when a signature is made or checked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from towzone.errors import InputError, Problem, UsageError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

__all__ = ["OPENSSL", "is_signed_by", "load_public_key", "load_signer"]

OPENSSL = "openssl pkeyutl -verify -pubin -inkey PUBLIC.pem -rawin -in {record} -sigfile {signature}"
"""How anyone checks a signature without towzone (OpenSSL 3 or newer)."""

_MAKE = "openssl genpkey -algorithm ed25519 -out KEY.pem"
_PUBLISH = "openssl pkey -in KEY.pem -pubout -out PUBLIC.pem"


def load_signer(pem: bytes, file: str) -> Callable[[bytes], bytes]:
    """Return what signs bytes (64 bytes of signature) with the private key of a PEM file, not encrypted.

    Raises
    ------
    UsageError
        The library is not installed.
    InputError
        It is no private key, is encrypted, or is of another kind than Ed25519.
    """
    _require_library()
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(pem, password=None)
    except TypeError as error:  # the library's word for a key that needs a passphrase
        message = (
            "the key is encrypted, and towzone asks for no passphrase; decrypt a copy of it "
            "(openssl pkey -in KEY.pem -out PLAIN.pem) and keep that as safe"
        )
        raise _refused(file, message) from error
    except (ValueError, UnsupportedAlgorithm) as error:
        message = f"this is not a private key in PEM form; make one with: {_MAKE}"
        raise _refused(file, message) from error
    if not isinstance(key, Ed25519PrivateKey):
        message = f"this is not an Ed25519 key, and records are signed with no other; make one with: {_MAKE}"
        raise _refused(file, message)
    return key.sign


def load_public_key(pem: bytes, file: str) -> Ed25519PublicKey:
    """Return the key of a PEM file.

    Raises
    ------
    UsageError
        The library is not installed.
    InputError
        It is no public key, or of another kind than Ed25519.
    """
    _require_library()
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    try:
        key = load_pem_public_key(pem)
    except (ValueError, UnsupportedAlgorithm) as error:
        message = f"this is not a public key in PEM form; take it from the private one with: {_PUBLISH}"
        raise _refused(file, message) from error
    if not isinstance(key, Ed25519PublicKey):
        message = "this is not an Ed25519 key, and records are signed with no other"
        raise _refused(file, message)
    return key


def is_signed_by(key: Ed25519PublicKey, signature: bytes, content: bytes) -> bool:
    """Return whether a signature is that of the holder of a key over exactly these bytes."""
    from cryptography.exceptions import InvalidSignature

    try:
        key.verify(signature, content)
    except InvalidSignature:
        return False
    return True


def _require_library() -> None:
    try:
        import cryptography  # noqa: F401
    except ImportError as error:
        message = (
            "signatures need the library cryptography, which is not installed: pip install 'towzone[sign]'"
        )
        raise UsageError(message) from error


def _refused(file: str, message: str) -> InputError:
    return InputError(file, [Problem("", message)])

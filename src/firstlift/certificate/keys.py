"""Keys to sign with: a person's own PKCS#12 file, or one made here whose name nobody has checked."""

from __future__ import annotations

import datetime as dt
import functools
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.core.errors import FirstliftError, Problem

if TYPE_CHECKING:
    from asn1crypto import x509
    from pyhanko.sign import SimpleSigner

SELF_MADE = "Firstlift self-made key, identity not checked"
_YEARS = 10
_LARGEST_KEY = 1_000_000


@dataclass(frozen=True, slots=True)
class Key:
    """A key ready to sign: pyHanko's signer, the holder's name, and whether its certificate vouches for itself."""

    signer: SimpleSigner
    name: str
    self_made: bool


def make_key(name: str, *, made_at: dt.datetime, passphrase: bytes | None = None) -> bytes:
    """Make a key on the curve P-256 with a certificate that vouches for itself, as PKCS#12.

    Parameters
    ----------
    name : str
        Whose it is; empty for nobody in particular. Nobody checks it.
    made_at : datetime
        With its zone; the certificate runs ten years from here.
    passphrase : bytes or None
        None for a file without one: then whoever can read it can sign.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        SIG-003 a name that no certificate can hold.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, NoEncryption, pkcs12
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    try:
        parts = [x509.NameAttribute(NameOID.COMMON_NAME, name or SELF_MADE)]
        if name:
            parts.append(x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, SELF_MADE))
        subject = x509.Name(parts)
    except ValueError as error:
        raise FirstliftError(
            Problem("SIG-003", f"the name '{name[:40]}' cannot stand in a key", needed="1 to 64 characters")
        ) from error
    until = made_at + dt.timedelta(days=365 * _YEARS)
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    builder = x509.CertificateBuilder(subject, subject, key.public_key(), x509.random_serial_number(), made_at, until)
    builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    builder = builder.add_extension(usage, critical=True)
    builder = builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    certificate = builder.sign(key, hashes.SHA256())
    cover = BestAvailableEncryption(passphrase) if passphrase else NoEncryption()
    return pkcs12.serialize_key_and_certificates((name or SELF_MADE).encode(), key, certificate, None, cover)


def write_key(path: Path, data: bytes) -> None:
    """Write a key that only its owner may read; an existing file is never replaced.

    Parameters
    ----------
    path : Path
        Its folder is made where it is missing, open to the owner alone.
    data : bytes

    Raises
    ------
    FirstliftError
        SIG-002 the file is there already or cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise FirstliftError(
            Problem(
                "SIG-002",
                f"the key cannot be written: {error.strerror or error}",
                str(path),
                "a file that is not there yet, in a folder that may be written to",
                "Name another file; a key is never replaced, since old signatures need its certificate",
            )
        ) from error


def load_key(path: Path, passphrase: bytes | None) -> Key:
    """Load a key; the same file is read once a process.

    Parameters
    ----------
    path : Path
        PKCS#12 (.p12, .pfx).
    passphrase : bytes or None

    Returns
    -------
    Key

    Raises
    ------
    FirstliftError
        SIG-001 it cannot be read: missing, another format, or the wrong passphrase.
    """
    try:
        state = path.stat()
        if state.st_size > _LARGEST_KEY:
            raise _unusable("it is larger than a key can be", path)
    except OSError as error:
        raise _unusable(error.strerror or str(error), path) from error
    return _load(path, state.st_mtime_ns, state.st_size, passphrase)


@functools.lru_cache(maxsize=8)
def _load(path: Path, _changed: int, _size: int, passphrase: bytes | None) -> Key:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise _unusable(error.strerror or str(error), path) from error
    return key_of(data, passphrase, path)


def key_of(data: bytes, passphrase: bytes | None, where: Path) -> Key:
    """Give the key in the bytes of a PKCS#12 file.

    Parameters
    ----------
    data : bytes
    passphrase : bytes or None
    where : Path
        Said in messages.

    Returns
    -------
    Key

    Raises
    ------
    FirstliftError
        SIG-001 it holds no key, or the passphrase is wrong.
    """
    from pyhanko.sign import SimpleSigner

    try:
        signer = SimpleSigner.load_pkcs12_data(data, other_certs=set(), passphrase=passphrase)
    except Exception as error:  # the library below lets every error of its parts through
        raise _unusable("it is no PKCS#12 file with a key, or the passphrase is wrong", where) from error
    certificate = signer.signing_cert
    if certificate is None or signer.signing_key is None:
        raise _unusable("it holds no key with its certificate", where)
    return Key(signer, holder_of(certificate), certificate.issuer == certificate.subject)


def public_part(key: Key) -> bytes:
    """Give the certificate of a key as PEM: what others need to check its signatures.

    Parameters
    ----------
    key : Key

    Returns
    -------
    bytes
    """
    from asn1crypto import pem

    certificate = key.signer.signing_cert
    assert certificate is not None
    return pem.armor("CERTIFICATE", certificate.dump())


def holder_of(certificate: x509.Certificate) -> str:
    """Give the holder's name in a certificate: the common name, else all that stands there.

    Parameters
    ----------
    certificate : asn1crypto.x509.Certificate

    Returns
    -------
    str
    """
    common = certificate.subject.native.get("common_name")
    return common if isinstance(common, str) else certificate.subject.human_friendly


def _unusable(why: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem(
            "SIG-001",
            f"the key cannot be used: {why}",
            str(path),
            "a PKCS#12 file (.p12) with a key and its certificate, and its passphrase",
            "Name it with --sign and its passphrase's file with --passphrase-file",
        )
    )

"""Signing: PAdES B-B (B-T with a time stamp), the last thing that is done to a certificate.

No visible stamp is drawn: the page stays as it was typeset, and no font comes in that is not embedded. The signature
is a certifying one that permits no change of any kind afterwards.
"""

from __future__ import annotations

import io
import logging
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from firstlift.certificate.keys import Key
from firstlift.core.errors import FirstliftError, Problem

if TYPE_CHECKING:
    from asn1crypto.cms import ContentInfo
    from pyhanko.pdf_utils.writer import BasePdfFileWriter
    from pyhanko.sign import PdfSigner
    from pyhanko.sign.timestamps import TimeStamper

FIELD = "Signature"
_TIMEOUT_S = 20


def sign_certificate(
    pdf: bytes, key: Key, *, reason: str = "", place: str = "", stamp_url: str = "", stamper: TimeStamper | None = None
) -> bytes:
    """Sign a certificate.

    Parameters
    ----------
    pdf : bytes
        Unsigned; its bytes stay as they are, the signature is added after them.
    key : Key
    reason, place : str
        Said inside the signature.
    stamp_url : str
        Address of an RFC 3161 time stamp server; empty for the signer's own clock.
    stamper : pyhanko.sign.timestamps.TimeStamper or None
        Used instead of the server's address.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        SIG-004 the time stamp server does not answer as it should; SIG-005 the file cannot be signed.
    """
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.sign import PdfSignatureMetadata
    from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter
    from pyhanko.sign.general import SigningError
    from pyhanko.sign.timestamps import TimestampRequestError

    quiet()
    meta = PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        reason=reason or None,
        location=place or None,
        name=key.name,
    )
    stamper = stamper or (_stamper(stamp_url) if stamp_url else None)
    signer = _signer()(meta, key.signer, timestamper=stamper, new_field_spec=SigFieldSpec(FIELD))
    try:
        signed = signer.sign_pdf(IncrementalPdfFileWriter(io.BytesIO(pdf)))
    except (TimestampRequestError, OSError, TimeoutError) as error:
        raise _no_stamp(stamp_url, error) from error
    except (PdfError, SigningError, ValueError) as error:
        raise FirstliftError(
            Problem("SIG-005", f"the certificate cannot be signed: {error}"[:300], needed="an unsigned certificate")
        ) from error
    if stamper is not None:
        _hold_to_stamp(signed.getvalue(), stamp_url)
    return signed.getvalue()


def _signer() -> type[PdfSigner]:
    from pyhanko.sign import PdfSigner
    from pyhanko.sign.signers.constants import ESIC_EXTENSION_1

    class Signer(PdfSigner):
        """The library's signer, which would call the file PDF 2.0 for the key's curve.

        PDF/A-3 stands on PDF 1.7 (ISO 32000-1), where PAdES is declared by an extension of its own.
        """

        def register_extensions(self, pdf_out: BasePdfFileWriter, *, md_algorithm: str) -> None:
            pdf_out.register_extension(ESIC_EXTENSION_1)

    return Signer


def _stamper(url: str) -> TimeStamper:
    from pyhanko.sign.timestamps import HTTPTimeStamper, TimestampRequestError

    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise FirstliftError(
            Problem(
                "SIG-004",
                f"'{url[:200]}' is no address of a time stamp server",
                "--timestamp",
                "http://... or https://...",
            )
        )

    class Stamper(HTTPTimeStamper):
        """The library's client, which falls over an answer that is no time stamp in as many ways as there are."""

        async def async_timestamp(self, message_digest: bytes, md_algorithm: str) -> ContentInfo:
            try:
                return await super().async_timestamp(message_digest, md_algorithm)
            except OSError:
                raise
            except Exception as error:
                message = "its answer is no time stamp, or one for another question"
                raise TimestampRequestError(message) from error

    return Stamper(url, timeout=_TIMEOUT_S)


def _hold_to_stamp(signed: bytes, url: str) -> None:
    """Look at the stamp as a verifier will: a server may well have stamped something else."""
    from firstlift.certificate.verify import check_certificate

    if not check_certificate(signed).time_stamped:
        raise _no_stamp(url, ValueError("the stamp it gave does not fit the signature"))


def _no_stamp(url: str, error: Exception) -> FirstliftError:
    return FirstliftError(
        Problem(
            "SIG-004",
            f"the time stamp server gave no time stamp: {str(error) or type(error).__name__}"[:300],
            url,
            "an RFC 3161 server that answers",
            "Try again, or sign without a time stamp; nothing was written",
        )
    )


def quiet() -> None:
    """Keep the signing library's log to itself: it prints long traces of what is reported here in one line."""
    for name in ("pyhanko", "pyhanko_certvalidator"):
        logger = logging.getLogger(name)
        logger.setLevel(logging.CRITICAL + 1)
        if not logger.handlers:
            logger.addHandler(logging.NullHandler())

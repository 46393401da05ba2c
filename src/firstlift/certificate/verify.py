"""Whether a certificate is whole, who signed it, and what is attached to it. Nothing is fetched from anywhere."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, cast

from firstlift.certificate.keys import holder_of
from firstlift.certificate.manifest import MANIFEST, Manifest, read_manifest, seal_of
from firstlift.certificate.sign import quiet
from firstlift.core.errors import FirstliftError

if TYPE_CHECKING:
    from asn1crypto import x509
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature

# of all attached files together, unpacked
_LARGEST_ATTACHED = 500_000_000


@dataclass(frozen=True, slots=True)
class Checked:
    """What a certificate's file says of itself.

    ``whole``: one signature, sound, over every byte of the file but its own, with every attached file as listed.
    ``trusted``: the signer's certificate leads to one that the reader named. ``unsigned_sha256`` is the hash of the
    file as it was before it was signed. ``reasons`` say what is wrong. ``read`` is False where the file breaks off or
    contradicts itself as a PDF, so that nobody can say what it was, ``is_pdf`` where it does not even begin as one.
    """

    whole: bool
    signed_by: str | None
    trusted: bool
    signed_at: dt.datetime | None
    time_stamped: bool
    signer_sha256: str | None
    file_sha256: str
    unsigned_sha256: str | None
    manifest: Manifest | None
    seal: str | None
    files: Mapping[str, bytes] = field(default_factory=dict)
    reasons: tuple[str, ...] = ()
    read: bool = True
    is_pdf: bool = True


def check_certificate(data: bytes, trust: Sequence[x509.Certificate] = ()) -> Checked:
    """Check a certificate's file.

    Parameters
    ----------
    data : bytes
        The file, whatever it is.
    trust : sequence of asn1crypto.x509.Certificate
        Certificates that the reader trusts; none are built in.

    Returns
    -------
    Checked
        Also for a file that is damaged or no certificate at all.
    """
    quiet()
    check = _Check(data, list(trust))
    try:
        check.look()
    except Exception as error:  # noqa: BLE001  a damaged file breaks the reader anywhere; the answer is the same
        check.reasons.append(f"the file cannot be read as a certificate ({type(error).__name__})")
    return check.answer()


@dataclass
class _Check:
    """One file being checked: what was found so far."""

    data: bytes
    trust: list[x509.Certificate]
    reasons: list[str] = field(default_factory=list)
    sound: bool = False
    signed_by: str | None = None
    signer_sha256: str | None = None
    trusted: bool = False
    signed_at: dt.datetime | None = None
    time_stamped: bool = False
    unsigned: str | None = None
    manifest: Manifest | None = None
    seal: str | None = None
    files: dict[str, bytes] = field(default_factory=dict)
    read: bool = False

    def look(self) -> None:
        from pyhanko.pdf_utils.reader import PdfFileReader

        # strict: what a lenient reader would mend has been changed
        reader = PdfFileReader(io.BytesIO(self.data), strict=True)
        self.read_signature(reader)
        self.files = attached(reader)
        self.read = True
        self.compare_files()

    def read_signature(self, reader: PdfFileReader) -> None:
        signatures = list(reader.embedded_signatures)
        if len(signatures) != 1:
            count = len(signatures) or "no"
            self.reasons.append(f"it carries {count} signature{'s' if count != 1 else ''} where one is needed")
            if not signatures:
                return
        last = signatures[-1]
        self.sound = self.validate(last) and len(signatures) == 1
        self.unsigned = _before(last, self.data)

    def validate(self, signature: EmbeddedPdfSignature) -> bool:
        from pyhanko.sign.validation import validate_pdf_signature
        from pyhanko.sign.validation.status import SignatureCoverageLevel
        from pyhanko_certvalidator import ValidationContext

        certificate = signature.signer_cert
        self.signed_by, self.signer_sha256 = holder_of(certificate), certificate.sha256.hex()
        context = ValidationContext(trust_roots=self.trust, allow_fetching=False, revocation_mode="soft-fail")
        status = validate_pdf_signature(signature, context, ts_validation_context=context)
        self.trusted = bool(status.trusted and status.intact and status.valid)
        self.signed_at = status.signer_reported_dt
        stamp = status.timestamp_validity
        if stamp is not None and stamp.intact and stamp.valid:
            self.time_stamped, self.signed_at = True, stamp.timestamp
        wrong = (
            (not status.intact, "the signed bytes were changed"),
            (not status.valid, "the signature itself is not sound"),
            (status.coverage is not SignatureCoverageLevel.ENTIRE_FILE, "something was added after the signature"),
            (not status.docmdp_ok, "the file was changed after the signature"),
            (stamp is not None and not self.time_stamped, "the time stamp is not sound"),
        )
        self.reasons += [words for found, words in wrong if found]
        return not any(found for found, _ in wrong)

    def compare_files(self) -> None:
        listed = self.files.get(MANIFEST)
        if listed is None:
            self.reasons.append("no manifest is attached")
            return
        try:
            self.manifest = read_manifest(listed)
        except FirstliftError as error:
            self.reasons.append(error.problems[0].what)
            return
        self.seal = seal_of(listed)
        named = {file.name: file for file in self.manifest.files if file.attached}
        for name in sorted({*named, *self.files} - {MANIFEST}):
            if name not in self.files:
                self.reasons.append(f"the attached file '{name}' is missing")
            elif name not in named:
                self.reasons.append(f"the attached file '{name}' is not in the manifest")
            elif hashlib.sha256(self.files[name]).hexdigest() != named[name].sha256:
                self.reasons.append(f"the attached file '{name}' is not the one in the manifest")

    def answer(self) -> Checked:
        return Checked(
            whole=self.sound and not self.reasons,
            signed_by=self.signed_by,
            trusted=self.trusted,
            signed_at=self.signed_at,
            time_stamped=self.time_stamped,
            signer_sha256=self.signer_sha256,
            file_sha256=hashlib.sha256(self.data).hexdigest(),
            unsigned_sha256=self.unsigned,
            manifest=self.manifest,
            seal=self.seal,
            files=self.files,
            reasons=tuple(dict.fromkeys(self.reasons)),
            read=self.read,
            # readers look for the mark within the first kilobyte
            is_pdf=b"%PDF-" in self.data[:1024],
        )


def _before(signature: EmbeddedPdfSignature, data: bytes) -> str | None:
    """Give the hash of the file as it was before it was signed: all up to the revision that the signature made."""
    # the signature's revision begins after the last end-of-file mark that stands before its own bytes
    first = int(cast("Any", signature.byte_range)[1])
    end = data.rfind(b"%%EOF", 0, first)
    return None if end < 0 else hashlib.sha256(data[: end + 5]).hexdigest()


def attached(reader: PdfFileReader) -> dict[str, bytes]:
    """Give the files attached to a document, by name.

    Parameters
    ----------
    reader : pyhanko.pdf_utils.reader.PdfFileReader

    Returns
    -------
    dict of str to bytes

    Raises
    ------
    ValueError
        A name stands twice, or the files are larger than any that were ever attached.
    """
    found: dict[str, bytes] = {}
    room = _LARGEST_ATTACHED
    root = cast("Any", reader.root)
    for reference in root.get("/AF", ()):
        spec = reference.get_object()
        name = str(spec["/UF"])
        if name in found:
            message = f"two attached files are called '{name[:60]}'"
            raise ValueError(message)
        found[name] = _content(spec, room)
        room -= len(found[name])
    return found


def _content(spec: Any, room: int) -> bytes:
    stream = spec["/EF"]["/F"]
    raw = bytes(stream.encoded_data)
    filters = stream.get("/Filter")
    if filters is None:
        content, more = raw[:room], len(raw) > room
    elif str(filters) != "/FlateDecode" or "/DecodeParms" in stream:
        message = "an attached file is packed in a way that is not used here"
        raise ValueError(message)
    else:
        # unpacked by ourselves, so that a small file cannot unpack to more than memory holds
        unpacker = zlib.decompressobj()
        content = unpacker.decompress(raw, room + 1)
        more = len(content) > room
    if more:
        message = "the attached files are larger than any that are attached here"
        raise ValueError(message)
    return content

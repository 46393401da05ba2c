"""Signing, and what a signed file says of itself: every change is seen."""

import dataclasses
import datetime as dt
import hashlib
import io
import os
import threading
import tracemalloc
import zlib
from http.server import BaseHTTPRequestHandler, HTTPServer

import pikepdf
import pytest
from asn1crypto import keys, tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from pyhanko.sign.timestamps import DummyTimeStamper

from firstlift.certificate import CertificateDetails, Sources, make_certificate
from firstlift.certificate.keys import SELF_MADE, load_key, make_key, write_key
from firstlift.certificate.sign import sign_certificate
from firstlift.certificate.verify import check_certificate
from firstlift.core.errors import FirstliftError

NOW = dt.datetime.now(dt.UTC).replace(microsecond=0)


@pytest.fixture(scope="module")
def key_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("keys") / "own.p12"
    write_key(path, make_key("Field team two", made_at=NOW - dt.timedelta(days=1), passphrase=b"long enough"))
    return path


@pytest.fixture(scope="module")
def key(key_file):
    return load_key(key_file, b"long enough")


@pytest.fixture
def paper(made):
    return make_certificate(
        made.job(), made.result(), made.traces(), made.details, sources=Sources(b"a = 1", b"time_s,force\n0,1\n")
    )


@pytest.fixture
def signed(paper, key):
    return sign_certificate(paper.pdf, key)


def signed_places(data):
    """Give every offset that the signature covers."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        start, length, again, rest = map(int, pdf.Root.AcroForm.Fields[0].V.ByteRange)
    return [*range(start, start + length), *range(again, again + rest)]


def test_a_signed_certificate_is_whole(paper, signed, key):
    found = check_certificate(signed)
    assert (found.whole, found.signed_by, found.trusted, found.reasons) == (True, "Field team two", False, ())
    assert found.manifest == paper.manifest
    assert found.seal == paper.seal == hashlib.sha256(paper.manifest.to_bytes()).hexdigest()
    assert abs((found.signed_at - dt.datetime.now(dt.UTC)).total_seconds()) < 60
    assert not found.time_stamped
    assert found.files["recording.csv"] == b"time_s,force\n0,1\n"


def test_both_hashes_are_known(paper, signed):
    found = check_certificate(signed)
    assert signed.startswith(paper.pdf)
    assert found.unsigned_sha256 == paper.sha256 == hashlib.sha256(paper.pdf).hexdigest()
    assert found.file_sha256 == hashlib.sha256(signed).hexdigest()


def test_who_the_reader_trusts_is_trusted(signed, key):
    assert check_certificate(signed, [key.signer.signing_cert]).trusted
    assert check_certificate(signed, [key.signer.signing_cert]).whole


def test_a_key_of_another_is_not_trusted(signed, tmp_path):
    write_key(tmp_path / "other.p12", make_key("Field team two", made_at=NOW))
    other = load_key(tmp_path / "other.p12", None)
    found = check_certificate(signed, [other.signer.signing_cert])
    assert (found.whole, found.trusted) == (True, False)


def test_a_change_in_the_padding_is_in_the_hash_of_the_file_alone(signed):
    places = set(signed_places(signed))
    at = next(at for at in reversed(range(len(signed))) if at not in places and signed[at : at + 1] == b"0")
    changed = bytearray(signed)
    changed[at] = ord("1")
    assert check_certificate(bytes(changed)).file_sha256 != check_certificate(signed).file_sha256


@pytest.mark.parametrize("more", [b"\n", b" " * 100, b"%%EOF\n"])
def test_what_is_added_is_seen(signed, more):
    found = check_certificate(signed + more)
    assert not found.whole
    assert found.reasons


def test_a_page_changed_in_a_later_revision_is_seen(signed):
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(signed))
    page = writer.root["/Pages"]["/Kids"][0].get_object()
    page["/Rotate"] = generic.NumberObject(90)
    writer.update_container(page)
    out = io.BytesIO()
    writer.write(out)
    found = check_certificate(out.getvalue())
    assert not found.whole
    assert "something was added after the signature" in found.reasons


def test_an_unsigned_certificate_is_not_whole(paper):
    found = check_certificate(paper.pdf)
    assert (found.whole, found.signed_by) == (False, None)
    assert found.manifest == paper.manifest


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7\n%%EOF", b"nothing like it", b"%PDF-" + bytes(2000)])
def test_what_is_no_certificate_is_not_whole(data):
    found = check_certificate(data)
    assert (found.whole, found.manifest) == (False, None)
    assert found.reasons


def packed_table(size):
    """A PDF whose table of objects is packed: a few bytes that unpack to any size."""
    table = zlib.compress(bytes(size), 9)
    head = b"%PDF-1.7\n1 0 obj\n<</Type/Catalog>>\nendobj\n"
    said = b"2 0 obj\n<</Type/XRef/Size 3/W[1 2 1]/Root 1 0 R/Filter/FlateDecode/Length %d>>\nstream\n" % len(table)
    return head + said + table + b"\nendstream\nendobj\nstartxref\n%d\n%%%%EOF\n" % len(head)


def test_a_table_that_unpacks_without_end_is_not_unpacked(signed):
    bomb = packed_table(100_000_000)
    assert len(bomb) < 200_000
    tracemalloc.start()
    found = check_certificate(bomb)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (found.whole, found.read) == (False, False)
    assert most < 20_000_000


def test_a_file_attached_in_exchange_is_seen(paper, key):
    with pikepdf.open(io.BytesIO(paper.pdf)) as pdf:
        spec = next(spec for spec in pdf.Root.AF if str(spec.UF) == "result.json")
        spec.EF.F.write(b"{}")
        out = io.BytesIO()
        pdf.save(out)
    found = check_certificate(sign_certificate(out.getvalue(), key))
    assert not found.whole
    assert found.reasons == ("the attached file 'result.json' is not the one in the manifest",)


def test_marks_of_pdf_a_hold_after_signing(signed):
    with pikepdf.open(io.BytesIO(signed)) as pdf:
        with pdf.open_metadata() as xmp:
            assert (xmp["pdfaid:part"], xmp["pdfaid:conformance"]) == ("3", "B")
        assert "/ID" in pdf.trailer
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        assert "/Encrypt" not in pdf.trailer
        assert "/NeedAppearances" not in pdf.Root.AcroForm
        fonts = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"]
        assert all(any(key in font for key in ("/FontFile2", "/FontFile3")) for font in fonts)
        for spec in pdf.Root.AF:
            assert spec.AFRelationship in ("/Data", "/Source")
            assert str(spec.EF.F.Subtype).count("/") == 2
        notes = [note for page in pdf.pages for note in page.get("/Annots", []) if note.get("/Subtype") == "/Widget"]
        assert len(notes) == 1
        # printed, not hidden, not invisible
        assert int(notes[0].F) & 0b100111 == 0b100
        assert [float(v) for v in notes[0].Rect] == [0, 0, 0, 0]
        assert int(pdf.Root.Perms.DocMDP.Reference[0].TransformParams.P) == 1


def test_a_name_nobody_checked_is_called_so(tmp_path):
    write_key(tmp_path / "k.p12", make_key("", made_at=NOW))
    key = load_key(tmp_path / "k.p12", None)
    assert (key.name, key.self_made) == (SELF_MADE, True)


def test_a_key_is_for_its_owner_alone_and_never_replaced(tmp_path):
    path = tmp_path / "keys" / "k.p12"
    write_key(path, b"first")
    if os.name == "posix":
        assert (path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    with pytest.raises(FirstliftError, match="SIG-002"):
        write_key(path, b"second")
    assert path.read_bytes() == b"first"


def test_a_key_that_cannot_be_used_is_told(key_file, tmp_path):
    with pytest.raises(FirstliftError, match=r"SIG-001 .*passphrase is wrong"):
        load_key(key_file, b"another")
    with pytest.raises(FirstliftError, match="SIG-001"):
        load_key(key_file, None)
    with pytest.raises(FirstliftError, match="SIG-001"):
        load_key(tmp_path / "missing.p12", None)
    (tmp_path / "text.p12").write_text("no key")
    with pytest.raises(FirstliftError, match="SIG-001"):
        load_key(tmp_path / "text.p12", None)
    with pytest.raises(FirstliftError, match="SIG-003"):
        make_key("n" * 65, made_at=NOW)


@pytest.fixture(scope="module")
def clock():
    """A time stamp server on this machine: its address, and the instant it gives."""
    private = rsa.generate_private_key(65537, 2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "clock of these tests")])
    begin, end = NOW - dt.timedelta(days=1), NOW + dt.timedelta(days=1)
    builder = x509.CertificateBuilder(name, name, private.public_key(), 1, begin, end)
    usage = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING])
    certificate = builder.add_extension(usage, critical=True).sign(private, hashes.SHA256())
    der = private.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    at = NOW - dt.timedelta(hours=1)
    stamper = DummyTimeStamper(
        asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
        keys.PrivateKeyInfo.load(der),
        fixed_dt=at,
    )

    class Answer(BaseHTTPRequestHandler):
        def do_POST(self):
            asked = tsp.TimeStampReq.load(self.rfile.read(int(self.headers["Content-Length"])))
            if self.path == "/other-hash":
                asked["message_imprint"]["hashed_message"] = bytes(32)
            if self.path == "/other-nonce":
                asked["nonce"] = 4711
            given = stamper.request_tsa_response(asked).dump()
            kind, status = "application/timestamp-reply", 200
            if self.path == "/refuses":
                given = tsp.TimeStampResp({"status": {"status": "rejection"}}).dump()
            elif self.path == "/garbage":
                given = given[:200]
            elif self.path == "/page":
                given, kind = b"<html>Sign in first</html>", "text/html"
            elif self.path == "/fails":
                status = 500
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(given)))
            self.end_headers()
            self.wfile.write(given)

        def log_message(self, *_):
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Answer)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", at
    server.shutdown()
    server.server_close()


def test_a_time_stamp_is_told_from_the_signers_clock(paper, key, clock):
    url, at = clock
    found = check_certificate(sign_certificate(paper.pdf, key, stamp_url=url))
    assert (found.whole, found.time_stamped, found.signed_at) == (True, True, at)


@pytest.mark.parametrize("path", ["refuses", "garbage", "page", "fails", "other-nonce", "other-hash"])
def test_a_time_stamp_that_is_none_is_told_and_nothing_is_signed(paper, key, clock, path):
    with pytest.raises(FirstliftError, match="SIG-004"):
        sign_certificate(paper.pdf, key, stamp_url=f"{clock[0]}/{path}")


@pytest.mark.parametrize("url", ["ftp://clock.invalid", "nonsense", "http://127.0.0.1:9/tsa"])
def test_a_time_stamp_server_that_gives_none_is_told(paper, key, url):
    with pytest.raises(FirstliftError, match="SIG-004"):
        sign_certificate(paper.pdf, key, stamp_url=url)


def test_signing_twice_is_refused(signed, key):
    with pytest.raises(FirstliftError, match="SIG-005"):
        sign_certificate(signed, key)


def test_same_input_same_bytes_with_everything_attached(made):
    given = Sources(b"a = 1", bytes(range(256)) * 4)
    details = dataclasses.replace(made.details, draft=True)
    once = make_certificate(made.job(), made.result(), made.traces(), details, sources=given)
    again = make_certificate(made.job(), made.result(), made.traces(), details, sources=given)
    assert once.pdf == again.pdf
    other = CertificateDetails("ML-2026-0043", "Field proving team, invented", made.details.issued_on, "0.1.0")
    assert make_certificate(made.job(), made.result(), made.traces(), other, sources=given).seal != once.seal


def test_a_large_recording_is_kept_apart_and_known_by_its_hash(made):
    given = Sources(b"a = 1", b"x" * 1000, attach_up_to=999)
    paper = make_certificate(made.job(), made.result(), (), made.details, sources=given)
    line = paper.manifest.recording
    assert (line.name, line.sha256, line.size, line.attached) == ("recording.csv", made.sha, 1000, False)
    with pikepdf.open(io.BytesIO(paper.pdf)) as pdf:
        assert "recording.csv" not in [str(spec.UF) for spec in pdf.Root.AF]

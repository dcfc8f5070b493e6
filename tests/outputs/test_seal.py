"""The library's signature in a PDF: a changed byte is found. Judged by pyHanko, qpdf and poppler's pdfsig.

PAdES: ETSI EN 319 142-1. Time stamps: RFC 3161, by a real authority that `openssl ts` runs on loopback.
"""

import asyncio
import hashlib
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from functools import cache
from http.server import BaseHTTPRequestHandler, HTTPServer
from io import BytesIO
from pathlib import Path
from threading import Thread

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.serialization import Encoding, pkcs12
from cryptography.x509 import load_pem_x509_certificate
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader, PdfWriter

from intake.errors import Refused
from intake.files import serving
from intake.jobs.models import JobState, Kind
from intake.library import certificates
from intake.library.models import SigningCertificate
from intake.outputs.models import OutputKind
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.seal import Credentials, check_seal, sealed
from intake.outputs.paper.style import ours
from intake.outputs.services import existing
from tests.factories import an_accession, at_time, later, run_jobs
from tests.needs import needs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@cache
def a_small_paper() -> bytes:
    sheet = Sheet(
        "Receipt", "R-7K2M", "Receipt R-7K2M", "Alder Ferry Public Library", datetime(2026, 11, 27, tzinfo=UTC)
    )
    return build(lambda: [ours("The library has accepted the interview.")], sheet)


@pytest.fixture
def credentials() -> Credentials:
    certificate = certificates.in_force()
    der = load_pem_x509_certificate(certificate.certificate_pem.encode()).public_bytes(Encoding.DER)
    return Credentials(der, certificates.key_of(certificate))


@pytest.fixture
def paper(credentials) -> bytes:
    return sealed(a_small_paper(), credentials, reason="Acceptance receipt R-7K2M", place="Alder Ferry")


def test_a_signed_paper_holds_and_says_by_which_certificate(paper):
    found = check_seal(paper)
    assert found.fault == ""
    assert certificates.is_ours(found.certificate_sha256)
    assert found.stamped_at is None


def test_what_the_paper_says_is_as_it_was(paper):
    assert paper.startswith(a_small_paper())
    assert (
        PdfReader(BytesIO(paper)).pages[0].extract_text() == PdfReader(BytesIO(a_small_paper())).pages[0].extract_text()
    )


def test_any_changed_byte_is_found(paper):
    """Every hundredth byte of the file, and each byte near its end, one bit turned over."""
    places = [*range(0, len(paper), 101), *range(len(paper) - 200, len(paper))]
    unseen = []
    for place in places:
        changed = bytearray(paper)
        changed[place] ^= 0x01
        found = check_seal(bytes(changed))
        if not found.fault and certificates.is_ours(found.certificate_sha256):
            unseen.append(place)
    # The signature's own hexadecimal digits may be written in capitals: the same bytes, spelt otherwise. And bytes of
    # its padding stand for nothing. Neither changes what the paper says; the SHA-256 that is kept shows both.
    (begins, ends) = _contents_of(paper)
    assert all(begins <= place < ends for place in unseen), [
        (place, paper[place - 30 : place + 30]) for place in unseen if not begins <= place < ends
    ]


def _contents_of(paper: bytes) -> tuple[int, int]:
    begins = paper.rindex(b"/Contents <")
    return begins, paper.index(b">", begins)


def test_a_page_added_afterwards_is_found(paper):
    writer = PdfWriter(BytesIO(paper), incremental=True)
    writer.add_blank_page(200, 200)
    changed = BytesIO()
    writer.write(changed)
    assert changed.getvalue().startswith(paper)
    assert check_seal(changed.getvalue()).fault


def test_a_signature_by_somebody_else_is_not_ours(paper, credentials):
    SigningCertificate.objects.all().delete()
    others = certificates.in_force()
    found = check_seal(paper)
    assert found.fault == ""
    assert not certificates.is_ours(found.certificate_sha256)
    assert certificates.is_ours(others.sha256)


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4\n%%EOF", b"GIF89a" * 100, b"%PDF-1.7\n" + b"\x00" * 5000])
def test_what_is_no_paper_is_said_so_and_breaks_nothing(content):
    assert check_seal(content).fault


def test_a_paper_without_a_signature_is_said_so():
    assert check_seal(a_small_paper()).fault == "The file carries no signature."


def test_qpdf_finds_nothing_wrong_with_the_file(paper, tmp_path):
    needs("qpdf", shutil.which("qpdf"))
    (tmp_path / "paper.pdf").write_bytes(paper)
    told = subprocess.run(["qpdf", "--check", tmp_path / "paper.pdf"], capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stdout + told.stderr
    assert "No syntax or stream encoding errors found" in told.stdout


def test_popplers_reader_agrees_about_a_whole_and_about_a_changed_paper(paper, tmp_path):
    needs("poppler-utils", shutil.which("pdfsig"))
    whole, changed = tmp_path / "whole.pdf", tmp_path / "changed.pdf"
    whole.write_bytes(paper)
    place = paper.index(b"stream") + 40
    changed.write_bytes(paper[:place] + bytes([paper[place] ^ 1]) + paper[place + 1 :])
    assert "Signature is Valid." in pdfsig(whole)
    assert "Total document signed" in pdfsig(whole)
    assert "ETSI.CAdES.detached" in pdfsig(whole)
    assert "Signature is Valid." not in pdfsig(changed)


def pdfsig(path: Path) -> str:
    return subprocess.run(["pdfsig", "-nocert", path], capture_output=True, text=True, check=False).stdout


# Certificates


def test_the_sites_own_certificate_is_made_once_and_its_key_lies_in_no_clear_text():
    first = certificates.in_force()
    assert certificates.in_force() == first
    row = str(SigningCertificate.objects.values().get())
    assert "PRIVATE KEY" not in row
    assert certificates.key_of(first).hex() not in row


def test_a_stolen_database_gives_no_key(settings):
    certificate = certificates.in_force()
    settings.SECRET_KEY = "another"
    with pytest.raises(Refused, match="signing key cannot be read"):
        certificates.key_of(certificate)


def test_the_library_brings_a_certificate_of_its_own(coordinator, tmp_path, paper):
    bundle = a_bundle(tmp_path, days=30)
    brought = certificates.bring(bundle, password="river", actor=coordinator)
    assert certificates.in_force() == brought
    assert "Alder Ferry Public Library" in brought.subject
    der = load_pem_x509_certificate(brought.certificate_pem.encode()).public_bytes(Encoding.DER)
    signed = sealed(a_small_paper(), Credentials(der, certificates.key_of(brought)), reason="x", place="")
    assert check_seal(signed).certificate_sha256 == hashlib.sha256(der).hexdigest()
    assert certificates.is_ours(check_seal(paper).certificate_sha256), "what was signed before stays ours"


@pytest.mark.parametrize(
    ("password", "days", "told"), [("wrong", 30, "cannot be opened"), ("river", -1, "has expired")]
)
def test_a_certificate_that_cannot_be_used_is_refused(coordinator, tmp_path, password, days, told):
    with pytest.raises(Refused, match=told):
        certificates.bring(a_bundle(tmp_path, days=days), password=password, actor=coordinator)


def test_only_the_coordinator_brings_one(archivist, tmp_path):
    with pytest.raises(Refused, match="Only the coordinator"):
        certificates.bring(a_bundle(tmp_path, days=30), password="river", actor=archivist)


def a_bundle(folder: Path, *, days: int) -> bytes:
    """A PKCS #12 file as `openssl` writes it, RSA as most authorities issue it; for -1 day one that has ended."""
    key, certificate, bundle = folder / "key.pem", folder / "certificate.pem", folder / "bundle.p12"
    subject = "/CN=Alder Ferry Public Library"
    made = subprocess.run(
        [
            "openssl",
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-keyout",
            key,
            "-out",
            certificate,
            "-subj",
            subject,
            "-days",
            "30",
        ],
        capture_output=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    if days < 0:
        _backdate(certificate, key)
    subprocess.run(
        ["openssl", "pkcs12", "-export", "-in", certificate, "-inkey", key, "-out", bundle, "-passout", "pass:river"],
        capture_output=True,
        check=True,
    )
    assert pkcs12.load_pkcs12(bundle.read_bytes(), b"river").cert
    return bundle.read_bytes()


def _backdate(certificate: Path, key: Path) -> None:
    """Issue the certificate anew for a month that is over."""
    old = x509.load_pem_x509_certificate(certificate.read_bytes())
    signing = serialization.load_pem_private_key(key.read_bytes(), None)
    again = (
        x509.CertificateBuilder()
        .subject_name(old.subject)
        .issuer_name(old.subject)
        .public_key(old.public_key())
        .serial_number(7)
        .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
        .not_valid_after(datetime(2020, 2, 1, tzinfo=UTC))
        .sign(signing, hashes.SHA256())
    )
    certificate.write_bytes(again.public_bytes(Encoding.PEM))


# A time stamp of an outside authority


class Authority(BaseHTTPRequestHandler):
    """Answers time stamp requests by `openssl ts` (RFC 3161, section 3.4: by HTTP)."""

    folder: Path

    def do_POST(self) -> None:
        asked = self.rfile.read(int(self.headers["Content-Length"]))
        (self.folder / "request.tsq").write_bytes(asked)
        command = ["openssl", "ts", "-reply", "-queryfile", "request.tsq", "-config", "tsa.cnf", "-out", "answer.tsr"]
        subprocess.run(command, cwd=self.folder, capture_output=True, check=True)
        answer = (self.folder / "answer.tsr").read_bytes()
        self.send_response(200)
        self.send_header("Content-Type", "application/timestamp-reply")
        self.send_header("Content-Length", str(len(answer)))
        self.end_headers()
        self.wfile.write(answer)

    def log_message(self, *args: object) -> None:
        """The test's output stays the test's."""


CONFIGURATION = """
[tsa]
default_tsa = ours
[ours]
serial = serial
signer_cert = tsa.pem
signer_key = tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha512
ess_cert_id_alg = sha256
[req]
distinguished_name = name
[name]
[stamping]
extendedKeyUsage = critical,timeStamping
"""


@pytest.fixture
def authority(tmp_path):
    (tmp_path / "tsa.cnf").write_text(CONFIGURATION)
    (tmp_path / "serial").write_text("01\n")
    subprocess.run(
        [
            "openssl",
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-keyout",
            "tsa.key",
            "-out",
            "tsa.pem",
            "-days",
            "30",
            "-subj",
            "/CN=An authority for time",
            "-config",
            "tsa.cnf",
            "-extensions",
            "stamping",
        ],
        cwd=tmp_path,
        capture_output=True,
        check=True,
    )
    server = HTTPServer(("127.0.0.1", 0), type("Ours", (Authority,), {"folder": tmp_path}))
    Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/"
    server.shutdown()


def test_an_outside_authority_stamps_the_time(credentials, authority):
    before = datetime.now(UTC).replace(microsecond=0)
    paper = sealed(a_small_paper(), credentials, reason="x", place="", stamp_url=authority)
    found = check_seal(paper)
    assert found.fault == ""
    assert found.stamped_at >= before


def test_an_authority_that_does_not_answer_leaves_the_paper_unmade(credentials):
    with pytest.raises(OSError, match="timestamp service"):
        sealed(a_small_paper(), credentials, reason="x", place="", stamp_url="http://127.0.0.1:9/")


def test_a_paper_is_signed_and_judged_also_where_an_event_loop_runs(credentials):
    async def inside() -> str:
        return check_seal(sealed(a_small_paper(), credentials, reason="x", place="")).fault

    # In a thread of its own: a browser that a test before this one drove may have left a loop running in this one.
    with ThreadPoolExecutor(1) as aside:
        assert aside.submit(asyncio.run, inside()).result() == ""


def test_papers_wait_while_the_authority_does_not_answer_and_are_made_once_it_does(settings, archivist, authority):
    accession = an_accession(reviewer=archivist)
    settings.PAPER_STAMP_URL = "http://127.0.0.1:9/"
    (job,) = run_jobs(Kind.MAKE_RECEIPT)
    assert (job.state, "timestamp" in job.error) == (JobState.WAITING, True)
    assert existing(OutputKind.RECEIPT, accession.pk) is None
    settings.PAPER_STAMP_URL = authority
    with at_time(later(hours=1)):
        run_jobs(Kind.MAKE_RECEIPT)
    with serving.open_copy(existing(OutputKind.RECEIPT, accession.pk).file) as file:
        found = check_seal(file.read())
    assert (found.fault, found.stamped_at is not None) == ("", True)


def test_the_coordinator_brings_a_certificate_on_the_set_up_page(coordinator, tmp_path):
    browser, page = signed_in(coordinator), reverse("desk:set-up-certificate")
    bundle = a_bundle(tmp_path, days=30)
    refused = browser.post(page, {"bundle": SimpleUploadedFile("ours.p12", bundle), "password": "wrong"})
    assert "the password is another" in text_of(refused)
    browser.post(page, {"bundle": SimpleUploadedFile("ours.p12", bundle), "password": "river"})
    assert "In force: CN=Alder Ferry Public Library" in text_of(browser.get(page))

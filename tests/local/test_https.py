"""HTTPS on the local network: the certificates, and the real site behind them."""

import http.client
import ipaddress
import socket
import ssl
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser

from intake.local import certificates
from intake.local.certificates import NETWORKS, certificate_for, names_of_this_computer
from intake.local.ports import EVERYWHERE, free_port
from tests.local.alone import Terminal
from tests.local.test_run_local import COORDINATOR, LOCAL
from tests.pages import text_of

NAMES = ["192.168.7.20", "reading-room", "reading-room.local", "localhost", "127.0.0.1"]


def handshake(made, name: str) -> str:
    """A whole TLS handshake in memory, checked by OpenSSL against the authority; returns the protocol's version."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(made.certificate, made.key)
    client = ssl.create_default_context(cafile=made.authority)
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    asking = client.wrap_bio(down, up, server_hostname=name)
    answering = server.wrap_bio(up, down, server_side=True)
    for _ in range(10):
        for side in (asking, answering):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
        if asking.version() and answering.version() and asking.cipher():
            break
    assert asking.getpeercert()
    return asking.version()


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_authority_accepts_each_name(tmp_path: Path, name: str) -> None:
    assert handshake(certificate_for(tmp_path / "tls", NAMES), name) == "TLSv1.3"


def test_another_name_is_not_accepted(tmp_path: Path) -> None:
    with pytest.raises(ssl.SSLCertVerificationError):
        handshake(certificate_for(tmp_path / "tls", NAMES), "bank.example.org")


def test_the_authority_cannot_vouch_for_a_web_site_elsewhere(tmp_path: Path) -> None:
    """Even with its key in hand: the limit stands in the authority's own certificate (RFC 5280, section 4.2.1.10)."""
    folder = tmp_path / "tls"
    made = certificate_for(folder, NAMES)
    authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
    for stolen in ("bank.example.org", "203.0.113.5"):
        certificates._make_certificate(folder, authority, [stolen], datetime.now(UTC))
        with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
            handshake(made, stolen)


def test_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    folder = tmp_path / "tls"
    certificate_for(folder, NAMES)
    assert {path.name for path in folder.iterdir()} == {"authority.crt", "authority.key", "site.crt", "site.key"}
    assert {oct(path.stat().st_mode & 0o777) for path in folder.glob("*.key")} == {"0o600"}


def test_a_certificate_lasts_no_longer_than_browsers_take(tmp_path: Path) -> None:
    made = x509.load_pem_x509_certificate(certificate_for(tmp_path / "tls", NAMES).certificate.read_bytes())
    assert made.not_valid_after_utc - made.not_valid_before_utc <= timedelta(days=397)


def test_nothing_is_made_anew_while_it_is_good(tmp_path: Path) -> None:
    certificate_for(tmp_path / "tls", NAMES)
    before = {path: path.read_bytes() for path in (tmp_path / "tls").iterdir()}
    certificate_for(tmp_path / "tls", list(reversed(NAMES)))
    assert {path: path.read_bytes() for path in (tmp_path / "tls").iterdir()} == before


@pytest.mark.parametrize(
    ("names", "days", "renewed", "authority_renewed"),
    [
        (["10.1.2.3", *NAMES[1:]], 0, True, False),  # another address: phones go on trusting
        (NAMES, 360, False, False),
        (NAMES, 370, True, False),  # near its end
        (["192.168.7.20", "other-host", "localhost", "127.0.0.1"], 0, True, True),  # it may not vouch for that name
        (NAMES, 5 * 365 - 10, True, True),
    ],
)
def test_a_certificate_is_renewed_near_its_end_or_for_other_names(
    tmp_path: Path, names: list[str], days: int, renewed: bool, authority_renewed: bool
) -> None:
    folder = tmp_path / "tls"
    certificate_for(folder, NAMES)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    later = datetime.now(UTC) + timedelta(days=days)
    made = certificate_for(folder, names, now=later)
    assert (made.certificate.read_bytes() != before["site.crt"]) is renewed
    assert (made.authority.read_bytes() != before["authority.crt"]) is authority_renewed
    if days == 0:
        assert handshake(made, names[0])


def test_this_computers_own_names_can_be_vouched_for(tmp_path: Path) -> None:
    names = names_of_this_computer()
    assert {"localhost", "127.0.0.1"} <= set(names)
    made = certificate_for(tmp_path / "tls", names)
    for name in names:
        assert handshake(made, name)
        if name[0].isdigit():
            assert any(ipaddress.IPv4Address(name) in network for network in NETWORKS)


@pytest.mark.django_db
def test_without_https_there_is_nothing_to_trust() -> None:
    assert Client().get(reverse("trust")).status_code == 404
    assert Client().get(reverse("trust-certificate")).status_code == 404


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path, str]]:
    """`make start HTTPS=1` below make: its address on this computer, its folder, and what the terminal showed."""
    var_dir = tmp_path_factory.mktemp("https") / "var"
    port = free_port(8700, EVERYWHERE)
    with Terminal(var_dir, port, "--https", **LOCAL, **COORDINATOR) as terminal:
        printed = terminal.wait_for("no longer need it.", seconds=240)
        yield f"https://127.0.0.1:{port}", var_dir, printed


def connected(site: tuple[str, Path, str]) -> http.client.HTTPSConnection:
    url, var_dir, _ = site
    context = ssl.create_default_context(cafile=var_dir / "tls" / "authority.crt")
    return http.client.HTTPSConnection("127.0.0.1", int(url.rpartition(":")[2]), context=context, timeout=30)


@pytest.mark.processes
def test_the_site_answers_a_client_that_verifies_it(site: tuple[str, Path, str]) -> None:
    connection = connected(site)
    connection.request("GET", "/account/login/")
    answer = connection.getresponse()
    assert answer.status == 200
    cookies = answer.headers.get_all("Set-Cookie") or []
    assert cookies
    assert all("Secure" in cookie for cookie in cookies)


@pytest.mark.processes
def test_a_client_that_does_not_trust_it_turns_away(site: tuple[str, Path, str]) -> None:
    port = int(site[0].rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port)) as plain, pytest.raises(ssl.SSLCertVerificationError):
        ssl.create_default_context().wrap_socket(plain, server_hostname="127.0.0.1")


@pytest.mark.processes
def test_the_page_gives_the_certificate_and_the_fingerprint_of_the_terminal(site: tuple[str, Path, str]) -> None:
    _, var_dir, printed = site
    connection = connected(site)
    connection.request("GET", "/trust/certificate/")
    answer = connection.getresponse()
    assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
    given = x509.load_der_x509_certificate(answer.read())
    authority = x509.load_pem_x509_certificate((var_dir / "tls" / "authority.crt").read_bytes())
    assert given.public_bytes(Encoding.DER) == authority.public_bytes(Encoding.DER)
    connection.request("GET", "/trust/")
    page = connection.getresponse().read().decode()
    fingerprint = next(line.strip() for line in printed.splitlines() if line.count(":") == 31)
    assert fingerprint in page
    assert "Remove it from the phone" in page
    assert "█" in printed, "the address is drawn as a code for a phone's camera"


@pytest.mark.processes
@pytest.mark.browser
def test_browsers_give_it_what_they_keep_for_https(browser: Browser, site: tuple[str, Path, str]) -> None:
    """The browser is told to pass over the unknown authority, as it would be told to trust it on a phone."""
    context = browser.new_context(base_url=site[0], ignore_https_errors=True, permissions=["microphone"])
    page = context.new_page()
    page.goto("/account/login/")
    assert page.evaluate("window.isSecureContext")
    assert page.evaluate("'serviceWorker' in navigator && !!navigator.mediaDevices && !!crypto.subtle")
    page.locator("[name=login]").fill(COORDINATOR["FIRST_COORDINATOR_EMAIL"])
    page.locator("[name=password]").fill(COORDINATOR["FIRST_COORDINATOR_PASSWORD"])
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("heading", name="Set up a second step").wait_for()
    assert {cookie["secure"] for cookie in context.cookies()} == {True}
    context.close()


def test_text_of_the_trust_page_names_both_kinds_of_phone(settings, db) -> None:
    settings.LAN_AUTHORITY = "QUJD"
    words = text_of(Client().get(reverse("trust")))
    assert "iPhone or iPad" in words
    assert "Android" in words

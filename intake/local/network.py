"""The site on the local network: what its processes are told, and what the person at the terminal is."""

import base64
from io import StringIO

from django.conf import settings
from qrcode.main import QRCode

from intake.local.certificates import Certificate


def lan_environment(certificate: Certificate) -> dict[str, str]:
    """Under which names browsers reach the site, and who vouches for it."""
    return {
        "LAN_HOSTS": ",".join(certificate.names),
        "LAN_AUTHORITY": base64.b64encode(certificate.authority_der).decode(),
    }


def on_the_network(url: str, certificate: Certificate) -> str:
    """How a phone gets there and comes to trust this computer, with the address as a code for its camera."""
    trust = f"{url}trust/"
    lines = [
        "",
        f"On your own network, phones and other computers reach the site at {url}",
        f"A phone first has to trust this computer, once. Open {trust} on it, or point its camera here:",
        "",
        _drawn(trust),
        "It warns you the first time: go on, and compare this fingerprint with what the page and the phone show:",
        f"  {certificate.fingerprint}",
        "Do this on a network that is yours alone, and take the certificate off the phone when you no longer need it.",
    ]
    if settings.DEMO:
        lines.append("Everybody on this network can sign in with the passwords above: keep to invented people.")
    return "\n".join(lines)


def _drawn(text: str) -> str:
    code = QRCode(border=2)
    code.add_data(text)
    drawn = StringIO()
    code.print_ascii(out=drawn, invert=True)
    return drawn.getvalue()

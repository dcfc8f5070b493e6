"""Write THIRD_PARTY_NOTICES.md from the packages that are installed: `make notices`.

What is listed is what the locks name (requirements.txt, package-lock.json); a test compares both with the file.
"""

import json
import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1]
TARGET = FOLDER / "THIRD_PARTY_NOTICES.md"
LOCKED = re.compile(r"^([a-zA-Z0-9._-]+)(?:\[[^]]*\])?==([^\s;]+)(?:\s*;\s*(.*))?", re.MULTILINE)
TEXT = re.compile(r"(^|/)(licen[cs]e|copying|notice)[^/]*$", re.IGNORECASE)
# Only for another system than the one that this is written on, so that nothing installed can be asked. From memory.
ELSEWHERE = {"async-timeout": "Apache-2.0", "colorama": "BSD-3-Clause", "tzdata": "Apache-2.0"}
# Where the package's own metadata holds the whole text, or says it in words of its own.
PLAINLY = {
    "fido2": "BSD-2-Clause AND Apache-2.0 AND MPL-2.0",
    "pymarc": "BSD-2-Clause",
    "pypdfium2": "BSD-3-Clause OR Apache-2.0",
    "python-dateutil": "Apache-2.0 OR BSD-3-Clause",
    "qrcode": "BSD-3-Clause",
    "reportlab": "BSD-3-Clause",
    "scipy": "BSD-3-Clause",
    "dejavu-fonts-ttf": "Bitstream Vera and Arev font licences, changes in the public domain",
    "combine-errors": "MIT",
}
# What whoever passes the site on, above all as a container image, has to know. Keys are packages.
ATTENTION = {
    "av": "Its wheel brings FFmpeg and other libraries: FFmpeg, as built there, LGPL-3.0-or-later; LAME (libmp3lame) "
    "LGPL-2.0-or-later; GnuTLS, Nettle, GMP and libunistring LGPL; and libx264 and libx265, GPL-2.0-or-later. "
    "The site uses FFmpeg to read sound and LAME to write MP3 listening copies, and never libx264 or libx265. Fetching "
    "the wheel yourself, as `make` does, is use alone; whoever passes on an image with it inside looks at what the GPL "
    "and LGPL ask for those libraries (texts and source), or builds PyAV on an FFmpeg without them.",
    "soundfile": "Its wheel brings libsndfile (LGPL-2.1-or-later), with mpg123 (LGPL-2.1) and LAME (LGPL-2.0-or-later) "
    "inside. Loaded as a shared library of its own, it can be replaced.",
    "psycopg": "LGPL-3.0: used as a library, unchanged. Whoever passes it on passes its licence on too.",
    "psycopg-binary": "LGPL-3.0, with libpq, OpenSSL, Kerberos, OpenLDAP and Cyrus SASL under their own free licences.",
    "numpy": "Its wheel brings OpenBLAS (BSD-3-Clause) and the GCC run-time libraries libgfortran and libquadmath "
    "(GPL-3.0 with the run-time library exception, and LGPL-2.1).",
    "pycountry": "LGPL-2.1: used as a library, unchanged. Whoever passes it on passes its licence on too.",
    "zipstream-ng": "LGPL-3.0: used as a library, unchanged. Whoever passes it on passes its licence on too.",
    "scipy": "As numpy: OpenBLAS, libgfortran and libquadmath in its wheel.",
    "pypdfium2": "Its wheel brings PDFium (BSD-3-Clause and Apache-2.0) and libraries under their own free licences, "
    "among them FreeType (FTL or GPL-2.0); all texts lie in the wheel.",
    "pillow": "Its wheel brings libraries under their own free licences, among them FreeType (FTL or GPL-2.0).",
    "fido2": "One file in it is MPL-2.0 (a list of public domain suffixes): changes to that file are passed on openly.",
    "dejavu-fonts-ttf": "Embedded in papers. The fonts may be passed on, also changed, but not sold by themselves, nor "
    "changed under the names Bitstream Vera, DejaVu or Arev.",
    "graceful-fs": "Blue Oak Model License 1.0.0, permissive. Comes with tus-js-client, is not sent to browsers.",
    "certifi": "MPL-2.0 (a list of certificate authorities), unchanged: changes to that list are passed on openly.",
    "axe-core": "MPL-2.0. Used in tests alone; no part of a running site, and not sent to browsers.",
}

HEAD = """# Third-party notices

The site itself is under the [MIT licence](LICENSE). It stands on the packages below, each under its own. This file is
written by `make notices` from what is installed and locked; do not change it by hand.

Papers embed the DejaVu fonts; pages use the fonts of the reader's own system, and the site brings no others. Packages
for development and tests (requirements-dev.txt) are not part of a running site and are not passed on with it; some of
them (djlint: GPL-3.0-or-later, hypothesis: MPL-2.0) are copyleft.
"""


def main() -> None:
    python = [_python(*found) for found in LOCKED.findall((FOLDER / "requirements.txt").read_text())]
    lock = json.loads((FOLDER / "package-lock.json").read_text())["packages"]
    browser = [_npm(path, told) for path, told in lock.items() if path]
    attention = [f"- **{name}**: {told}" for name, told in sorted(ATTENTION.items())]
    TARGET.write_text(
        "\n".join(
            [
                HEAD,
                "## Licences that need attention\n",
                "Not legal advice: whoever passes the site on asks their own counsel.\n",
                *attention,
                "\n## Python packages\n",
                "Texts lie in the folder of Python packages, `.venv/lib/python3.x/site-packages/`.\n",
                *_table(python),
                "\n## Browser packages\n\nTexts lie in `node_modules/`.\n",
                *_table(browser),
                "",
            ]
        )
    )


def _table(rows: list[tuple[str, str, str, str]]) -> list[str]:
    lines = [f"| {name} | {version} | {licence} | {text} |" for name, version, licence, text in sorted(rows)]
    return ["| package | version | licence | its text |", "|---|---|---|---|", *lines]


def _python(name: str, version: str, marker: str) -> tuple[str, str, str, str]:
    try:
        found = distribution(name)
    except PackageNotFoundError:
        return name, version, ELSEWHERE[name], f"not installed here: only where {marker.replace(chr(39), '')}"
    texts = sorted(str(path) for path in found.files or [] if TEXT.search(str(path)) and "dist-info" in str(path))
    shown = f"`{texts[0]}`" + (f" and {len(texts) - 1} more" if len(texts) > 1 else "") if texts else "metadata only"
    return name, version, PLAINLY.get(name) or _licence(found), shown


def _licence(found: Distribution) -> str:
    told = found.metadata
    short = (told.get("License") or "").strip()
    classified = [line.rpartition(" :: ")[2] for line in told.get_all("Classifier") or [] if line.startswith("License")]
    if told.get("License-Expression"):
        return told["License-Expression"]
    return short if short and len(short) < 40 else ", ".join(classified)


def _npm(path: str, told: dict) -> tuple[str, str, str, str]:
    name = path.removeprefix("node_modules/")
    texts = sorted(file.name for file in (FOLDER / path).glob("*") if TEXT.search(file.name))
    return name, told["version"], PLAINLY.get(name) or told["license"], f"`{name}/{texts[0]}`" if texts else "README"


if __name__ == "__main__":
    main()

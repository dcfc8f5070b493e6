"""A running site on each kind of store, and what a program needs to hand something in there."""

import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.object_server import BUCKETS, KEYS
from tests.site import LiveSite, running_site

PIECE_BYTES = 5 * 1024**2  # the least that S3 takes for a part, so that a file of some megabytes has several

# An interview begun by a new volunteer; prints its number and the address that a program is given for it.
BEGIN = """
from datetime import date
from uuid import uuid4
from intake.accounts.models import User
from intake.interviews import services
from intake.interviews.models import Collection
from intake.portal.capabilities import program_address
address = f"{{uuid4().hex}}@example.org"
owner = User.objects.create_user(address, "three quiet rivers", name="Tobias Marr", role="volunteer")
collection, _ = Collection.objects.get_or_create(name="Both Banks: the crossing years")
said = services.Description(collection, date(2026, 11, 2), "Alder Ferry", "en", "Ice", "", "")
interview = services.start(actor=owner, description=said, narrator_name="Jonas Wick", narrator_email="")
print(interview.pk, program_address(interview.pk, owner))
"""

# Waits until every part of an interview is stored; prints what is known of each.
STORED = """
import json, time
from intake.files.models import UploadState
from intake.files.services import is_proven, is_safe
from intake.interviews.models import Part
end = time.monotonic() + 120
while time.monotonic() < end:
    parts = Part.objects.filter(interview={interview}).select_related("upload", "file").order_by("pk")
    if parts and all(part.upload.state not in (UploadState.RECEIVING, UploadState.RECEIVED) for part in parts):
        break
    time.sleep(0.2)
print(json.dumps([
    {{
        "name": part.upload.name,
        "state": part.upload.state,
        "sha256": part.file.sha256 if part.file else "",
        "bytes": part.file.bytes if part.file else 0,
        "safe": bool(part.file) and is_safe(part.file),
        "proven": bool(part.file) and is_proven(part.file),
    }}
    for part in parts
]))
"""


class Door:
    """Where a program hands in parts of one interview."""

    def __init__(self, site: LiveSite) -> None:
        self.site = site
        self.interview, path = site.shell(BEGIN.format()).split()
        self.url = site.url + path

    def stored(self) -> list[dict[str, object]]:
        """What came in, once nothing is under way any more."""
        return json.loads(self.site.shell(STORED.format(interview=self.interview)))


@pytest.fixture(scope="module", params=["folder", "objects"])
def stores(request: pytest.FixtureRequest) -> dict[str, str]:
    """The settings of two stores: folders of the site's own, or buckets of a running object server."""
    common = {"UPLOAD_PIECE_BYTES": str(PIECE_BYTES)}
    if request.param == "folder":
        return common
    return {
        **common,
        **{f"{name.upper()}_STORE": f"s3://{bucket}/of-programs" for name, bucket in BUCKETS.items()},
        "AWS_S3_ENDPOINT_URL": request.getfixturevalue("object_server"),
        "AWS_S3_REGION_NAME": "us-east-1",
        **{name.upper(): value for name, value in KEYS.items()},
    }


@pytest.fixture(scope="module")
def store_site(stores: dict[str, str]) -> Iterator[LiveSite]:
    with running_site(**stores) as site:
        yield site


@pytest.fixture
def door(store_site: LiveSite) -> Door:
    return Door(store_site)


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty-three megabytes and a bit, like no other file."""
    path = tmp_path_factory.mktemp("card") / "TOLL0007.WAV"
    content = b"".join(number.to_bytes(4, "little") for number in range(6_000_123))
    path.write_bytes(content + time.time_ns().to_bytes(8, "little"))
    return path

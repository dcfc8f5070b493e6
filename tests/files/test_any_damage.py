"""Whatever happens to the stores: what had a good copy has two again, what had none is told, no byte is lost."""

from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake.files import incidents, services, storage
from intake.files.fixity import Reader
from intake.files.models import Incident, StoredFile, Why
from tests.files.damage import Folder, flip

pytestmark = pytest.mark.django_db


@dataclass(frozen=True)
class Damage:
    """What happens to one copy. `at` is a share of its length."""

    kind: str
    at: float
    bit: int

    def __call__(self, place: Folder, file: StoredFile, other: StoredFile) -> None:
        content = place.read(file.key)
        position = min(int(self.at * len(content)), len(content) - 1)
        if self.kind == "flip":
            place.write(file.key, flip(position, self.bit)(content))
        elif self.kind == "cut":
            place.write(file.key, content[:position])
        elif self.kind == "grow":
            place.write(file.key, content + content[: position + 1])
        elif self.kind == "other":
            place.write(file.key, b"another " + other.pk.bytes)
        elif self.kind == "delete":
            place.delete(file.key)
        elif self.kind == "folder":
            place.delete(file.key)
            place.path(file.key).mkdir()


KINDS = ("none", "none", "flip", "cut", "grow", "other", "delete", "folder")
damages = st.builds(Damage, st.sampled_from(KINDS), st.floats(0, 1), st.integers(0, 7))
contents = st.lists(st.binary(min_size=1, max_size=200), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(contents=contents, data=st.data())
def test_whatever_happens_to_the_copies(folders, a_file, contents, data):
    files = [a_file(content) for content in contents]
    for file in files:
        for place in folders.values():
            data.draw(damages)(place, file, files[0])
    before = {name: place.everything() for name, place in folders.items()}
    right = dict(zip(files, contents, strict=True))
    had_good = {
        file: any(before[name].get(file.key) == content for name in storage.STORES) for file, content in right.items()
    }
    for file in files:
        incidents.examine(file, Reader(Why.ASKED))
    after = {name: place.everything() for name, place in folders.items()}
    for file, content in right.items():
        now = StoredFile.objects.get(pk=file.pk)
        if had_good[file]:
            assert {name: after[name][file.key] for name in storage.STORES} == dict.fromkeys(storage.STORES, content)
            assert services.is_safe(now)
            assert not Incident.objects.filter(file=file, closed_at=None).exists()
        else:
            assert {name: after[name].get(file.key) for name in storage.STORES} == {
                name: before[name].get(file.key) for name in storage.STORES
            }
            assert incidents.is_lost(now)
            assert Incident.objects.filter(file=file, closed_at=None, state="no-good-copy").count() == 2
        for name in storage.STORES:
            was_bad = before[name].get(file.key) != content
            assert Incident.objects.filter(file=file, store=name).exists() == was_bad
    for name in storage.STORES:
        kept = list(after[name].values())
        assert all(content in kept for content in before[name].values()), "a byte was lost"

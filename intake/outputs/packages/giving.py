"""Give packages out: as a ZIP archive that is written while the files are read."""

from collections.abc import Callable, Iterable, Iterator

from django.utils import timezone

from intake.accounts.models import User
from intake.files import audits
from intake.files.models import Why
from intake.outputs.packages.bags import Bag, NotAsStored, zipped


def archive(makers: Iterable[Callable[[], Bag]], *, actor: User | None) -> Iterator[bytes]:
    """The archive, block by block. A file that is not as it was stored breaks it off and has its copies mended."""
    try:
        yield from zipped((make() for make in makers), on=timezone.localdate())
    except NotAsStored as broken:
        audits.ask(about=f"files.storedfile:{broken.content.id}", actor=actor, why=Why.SERVED)
        raise

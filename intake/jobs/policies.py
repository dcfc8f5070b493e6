"""How each kind of work is run: its Celery queue, time limit, attempts and which errors are worth another try."""

from dataclasses import dataclass
from smtplib import SMTPException

from botocore.exceptions import BotoCoreError, ClientError
from django.db import OperationalError

from intake.jobs.models import Kind

MINUTE = 60
HOUR = 60 * MINUTE


# A busy database, a full or absent disk, an object store that does not answer: another try may go well.
PASSING = (OperationalError, OSError, BotoCoreError, ClientError)


@dataclass(frozen=True)
class Policy:
    """`time_limit` in seconds ends the worker process.

    `delays` in seconds before attempts 2, 3, ...; the last repeats.
    """

    queue: str
    time_limit: int
    attempts: int = 5
    delays: tuple[int, ...] = (10, MINUTE, 10 * MINUTE)
    retry_on: tuple[type[Exception], ...] = PASSING

    def delay_after(self, attempts: int) -> int:
        return self.delays[min(attempts, len(self.delays)) - 1]


POLICIES = {
    Kind.STORE_UPLOAD: Policy(queue="files", time_limit=4 * HOUR),
    Kind.MEASURE_PART: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.MAKE_LISTENING_COPY: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.MAKE_SOUND_PICTURE: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.MAKE_WORKING_COPY: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.MAKE_DESCRIBED_COPIES: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.MAKE_RELEASE_COPY: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_AGREEMENT_COPY: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_ARRIVAL_RECEIPT: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_RECEIPT: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_LETTER: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_QUALITY_REPORT: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.REISSUE_PAPER: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.READ_SCAN: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.SEND_MESSAGE: Policy(
        queue="mail",
        time_limit=5 * MINUTE,
        attempts=8,
        delays=(30, 5 * MINUTE, HOUR),
        retry_on=(*PASSING, SMTPException),
    ),
    Kind.AUDIT_COPIES: Policy(queue="files", time_limit=12 * HOUR),
    Kind.CHECK_COPIES: Policy(queue="files", time_limit=12 * HOUR),
    Kind.TELL_INCIDENTS: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.TELL_CARD: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.LIFT_CLOSURES: Policy(queue="quick", time_limit=5 * MINUTE),
    Kind.MAKE_ACCESS_COPIES: Policy(queue="measure", time_limit=4 * HOUR),
    Kind.CLEAR_UPLOADS: Policy(queue="files", time_limit=30 * MINUTE),
    Kind.REFRESH_QUEUE: Policy(queue="quick", time_limit=30 * MINUTE),
    Kind.REFRESH_HARVEST: Policy(queue="quick", time_limit=30 * MINUTE),
    Kind.READ_LIST: Policy(queue="quick", time_limit=30 * MINUTE),
    Kind.SEAL_EVENTS: Policy(queue="quick", time_limit=5 * MINUTE),
}

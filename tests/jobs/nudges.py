"""What lies in the broker: the nudges that a worker would get, taken out and read."""

from queue import Empty

from intake.celery import app

QUEUES = ("quick", "files", "measure", "mail")


def taken_from(queue: str) -> list[int]:
    """The job numbers of all nudges in one queue, oldest first; the queue is empty afterwards."""
    numbers = []
    with app.connection_for_read() as connection, connection.SimpleQueue(queue) as messages:
        while True:
            try:
                message = messages.get(block=False)
            except Empty:
                return numbers
            message.ack()
            numbers.append(message.payload[0][0])


def forget_all() -> None:
    """Empty the broker, as a restart of Redis may do."""
    for queue in QUEUES:
        taken_from(queue)

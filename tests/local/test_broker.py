"""The file broker: a worker never finds half a message."""

import threading
from queue import Empty

import pytest
from django.conf import settings
from kombu import Connection
from kombu.transport import filesystem

from intake.celery import app
from intake.local import broker

MESSAGES = 300
PAYLOAD = {"body": "x" * 200_000}


def channel_of(transport: type, folder):
    options = {"data_folder_in": str(folder), "data_folder_out": str(folder), "control_folder": str(folder / "control")}
    return Connection("filesystem://localhost", transport=transport, transport_options=options).channel()


def take_all(channel, taken: list, troubles: list) -> None:
    """As a worker does: again and again, until every message has come."""
    while len(taken) + len(troubles) < MESSAGES:
        try:
            taken.append(channel._get("quick"))
        except Empty:
            continue
        except ValueError as error:  # half a message is no JSON
            troubles.append(error)


def troubles_of(transport: type, folder) -> list:
    sender, receiver = channel_of(transport, folder), channel_of(transport, folder)
    taken: list = []
    troubles: list = []
    worker = threading.Thread(target=take_all, args=(receiver, taken, troubles), daemon=True)
    worker.start()
    for _ in range(MESSAGES):
        sender._put("quick", PAYLOAD)
    worker.join(timeout=60)
    assert not worker.is_alive(), "messages were lost"
    return troubles


def test_every_message_is_whole(tmp_path) -> None:
    assert troubles_of(broker.Transport, tmp_path) == []


def test_the_library_alone_hands_out_half_messages_so_that_the_test_above_can_fail(tmp_path) -> None:
    if not troubles_of(filesystem.Transport, tmp_path):
        pytest.skip("the race did not happen on this machine this time")


def test_the_site_uses_it_wherever_the_broker_is_a_folder() -> None:
    if not settings.CELERY_BROKER_URL.startswith("filesystem"):
        pytest.skip("this run has another broker")
    assert isinstance(app.connection_for_write().transport, broker.Transport)

"""The broker of a house on one machine: a message is seen whole or not at all."""

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from kombu import Connection
from kombu.simple import SimpleQueue

from service.core.queue import celery
from service.core.settings import read_settings

SENT = 1000
SENDER = """
import sys
from service.core.queue import celery
from service.core.settings import read_settings
app = celery(read_settings())
with app.connection_for_write() as connection:
    queue = connection.SimpleQueue("celery")
    for n in range(int(sys.argv[1])):
        queue.put({"n": n})
"""


def _busily(queue: SimpleQueue, wanted: int) -> Iterator[int]:
    """Take messages without ever resting, to come between a sender's steps."""
    give_up = time.monotonic() + 60
    while wanted and time.monotonic() < give_up:
        try:
            message = queue.get_nowait()
        except queue.Empty:
            continue
        message.ack()
        wanted -= 1
        yield message.payload["n"]


@pytest.fixture
def connection(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Connection:
    """A connection to the broker of a new house on one machine."""
    monkeypatch.setenv("DIPLEDGER_HOME", str(tmp_path))
    monkeypatch.setenv("DIPLEDGER_SECRET_KEY", "a-long-secret-of-the-tests-0123456789")
    monkeypatch.delenv("DIPLEDGER_REDIS_URL", raising=False)
    return celery(read_settings()).connection_for_read()


def test_a_message_that_is_sent_arrives_as_it_was(connection: Connection) -> None:
    with connection, connection.SimpleQueue("celery") as queue:
        queue.put({"eggs": "jelly", "n": 3})
        assert queue.get(timeout=5).payload == {"eggs": "jelly", "n": 3}


def test_messages_are_taken_while_others_are_being_written(connection: Connection) -> None:
    """Two senders start at once: also the table of who listens is written and read by several processes."""
    senders = [subprocess.Popen([sys.executable, "-c", SENDER, str(SENT)]) for _ in range(2)]
    with connection, connection.SimpleQueue("celery") as queue:
        taken = list(_busily(queue, 2 * SENT))
    assert [sender.wait(20) for sender in senders] == [0, 0]
    assert sorted(taken) == sorted([*range(SENT)] * 2)


def test_an_unreadable_message_is_passed_over(tmp_path: Path, connection: Connection) -> None:
    """Found so after a power failure; the worker that took it used to end, and the house with it."""
    with connection, connection.SimpleQueue("celery") as queue:
        (tmp_path / "queue" / "0_torn.celery.msg").write_bytes(b"")
        queue.put({"n": 1})
        assert queue.get(timeout=5).payload == {"n": 1}

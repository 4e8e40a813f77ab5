"""A folder as the broker of a house on one machine: kombu's, with messages that appear whole or not at all.

kombu creates a message's file and writes it afterwards; a reader that comes between takes an empty file
for a message, and its worker ends. Here every file is written beside the folder and then moved into it,
which POSIX makes one step. An unreadable one (the power failed before it reached the disk) is passed over:
a message is only news that work is owed, and beat asks the database anyway.
"""

import time
from pathlib import Path
from typing import Any
from uuid import uuid4

import structlog
from kombu.transport import filesystem, virtual
from kombu.utils.json import dumps

log = structlog.get_logger()


class Channel(filesystem.Channel):  # type: ignore[misc]  # kombu ships no types
    """Puts and takes messages of one folder; safe with any number of processes."""

    def _put(self, queue: str, payload: object, **_kwargs: Any) -> None:
        # The sorted names are the order of the messages; the last part is what a reader looks for.
        name = f"{round(time.monotonic() * 1000)}_{uuid4()}.{queue}.msg"
        self._write_whole(Path(self.data_folder_out) / name, dumps(payload))

    def _get(self, queue: str) -> Any:
        while True:
            try:
                return super()._get(queue)
            except ValueError as problem:
                log.warning("message passed over", queue=queue, problem=str(problem))

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        table = self.get_table(exchange)
        row = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        if row not in table:
            self._write_whole(self._exchange_file(exchange), dumps([row, *table]))

    def _write_whole(self, file: Path, text: str) -> None:
        self.control_folder.mkdir(exist_ok=True)
        draft = self.control_folder / f"{uuid4()}.draft"
        draft.write_text(text, "utf-8")
        draft.replace(file)


class Transport(filesystem.Transport):  # type: ignore[misc]  # kombu ships no types
    """What Celery is given as `broker_transport`."""

    Channel = Channel

    def __init__(self, client: Any, **options: Any) -> None:
        """Its own memory of who listens; kombu's is one for all folders of a process."""
        super().__init__(client, **options)
        self.state = virtual.BrokerState()

"""The one door to Celery: the application object, its settings, and waking the workers.

No work travels through the broker, only the news that some is owed; losing it loses nothing.
"""

import threading
from pathlib import Path

import redis
import structlog
from celery import Celery
from kombu.exceptions import OperationalError

from service.core.settings import Settings

RUN_OWED = "worker.run_owed"
FOLDER_BROKER = "service.core.folder_queue:Transport"
VISIBILITY = 900
log = structlog.get_logger()


def celery(settings: Settings) -> Celery:
    """The Celery application on Redis, or on a folder when there is no broker to install."""
    app = Celery("dipledger")
    app.conf.update(
        broker_url=settings.redis_url or "filesystem://",
        broker_transport=None if settings.redis_url else FOLDER_BROKER,
        task_ignore_result=True,
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        worker_prefetch_multiplier=1,
        task_time_limit=300,
        task_soft_time_limit=270,
        accept_content=["json"],
        task_serializer="json",
        broker_connection_retry_on_startup=True,
        worker_hijack_root_logger=False,
        worker_enable_remote_control=settings.redis_url is not None,
        worker_send_task_events=False,
        timezone="UTC",
        enable_utc=True,
        broker_transport_options=_transport(settings),
    )
    return app


def _transport(settings: Settings) -> dict[str, object]:
    if settings.redis_url:
        return {"visibility_timeout": VISIBILITY, "socket_timeout": 2, "socket_connect_timeout": 2}
    folder = settings.home / "queue"
    folder.mkdir(parents=True, exist_ok=True)
    return {
        "data_folder_in": str(folder),
        "data_folder_out": str(folder),
        "control_folder": str(_made(settings.home / "queue-control")),
        "polling_interval": 0.1,
    }


def _made(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder


class Waker:
    """Tells the workers, from a thread of its own, that work is owed; a dead broker delays no request."""

    def __init__(self, settings: Settings) -> None:
        """Nothing is opened before the first call."""
        self._settings = settings
        self._news = threading.Event()
        self._thread: threading.Thread | None = None
        self._starting = threading.Lock()

    def wake(self) -> None:
        """Say that work is owed; returns at once, calls that come together make one message."""
        with self._starting:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="waker", daemon=True)
                self._thread.start()
        self._news.set()

    def _run(self) -> None:
        app = celery(self._settings)
        while True:
            self._news.wait()
            self._news.clear()
            try:
                app.send_task(RUN_OWED, retry=False)
            except (OperationalError, OSError) as problem:
                # Beat asks the database again within seconds; nothing is lost.
                log.warning("workers not woken", problem=str(problem))


def broker_verdict(settings: Settings) -> tuple[str, str]:
    """("pass"|"warn", a sentence): whether reminders and recomputation will be prompt."""
    if settings.redis_url is None:
        return "pass", "The queue is a folder on this machine."
    try:
        with redis.Redis.from_url(settings.redis_url, socket_timeout=2, socket_connect_timeout=2) as client:
            client.ping()
    except redis.RedisError:
        return "warn", "Reminders are delayed: the broker does not answer."
    return "pass", "It answers."

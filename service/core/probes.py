"""Is it alive, is it ready, how is it doing: /healthz, /readyz (health+json) and /metrics."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import orjson
from flask import Blueprint, Response, current_app, request
from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from sqlalchemy import String, delete, insert, select, text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Mapped, Session, mapped_column

from service.core.clock import utc_now
from service.core.db import Base, Moment
from service.core.http import database
from service.core.measures import text_of

PROOF_HELD, PROOF_FAILED = "proof held", "proof failed"
LATE_BEAT = timedelta(minutes=3)
LOCAL = {"127.0.0.1", "::1"}
blueprint = Blueprint("probes", __name__)


class Heartbeat(Base):
    """When a process last said that it lives."""

    __tablename__ = "heartbeat"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    at: Mapped[Moment]


class Gauges:
    """The metrics of one application; each application has its own registry."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Histogram(
            "http_server_request_duration_seconds",
            "How long requests took.",
            ["method", "route", "status"],
            registry=self.registry,
        )
        self.again = Counter(
            "dipledger_tried_again",
            "Requests that were tried anew, each time, by what was in the way.",
            ["cause"],
            registry=self.registry,
        )
        self.database = Gauge(
            "dipledger_database_up", "Whether the database answered this scrape.", registry=self.registry
        )


def beat(session: Session, name: str, now: datetime) -> None:
    """Say that the process `name` lives at `now`."""
    session.execute(delete(Heartbeat).where(Heartbeat.name == name))
    session.execute(insert(Heartbeat).values(name=name, at=now))


def heartbeat_ages(session: Session, now: datetime) -> dict[str, float]:
    """For how many seconds each process has said nothing, and how long ago a proof held or failed."""
    beats = session.execute(select(Heartbeat.name, Heartbeat.at)).all()
    return {name: (now - at).total_seconds() for name, at in beats}


def waker() -> Callable[[], None] | None:
    """What to call after a commit so that workers look for owed work, None where nobody listens."""
    found: Callable[[], None] | None = current_app.extensions.get("dipledger.wake")
    return found


def observe(status: int, seconds: float) -> None:
    """Count one answered request by its route, never by an id in it."""
    route = request.url_rule.rule if request.url_rule else "none"
    gauges: Gauges = current_app.extensions["dipledger.gauges"]
    gauges.requests.labels(request.method, route, str(status)).observe(seconds)


def count_again(cause: str) -> None:
    """Count one more try of a request."""
    gauges: Gauges = current_app.extensions["dipledger.gauges"]
    gauges.again.labels(cause).inc()


@blueprint.get("/healthz")
def healthz() -> Response:
    """The process lives."""
    return _health({"status": "pass"}, 200)


@blueprint.get("/readyz")
def readyz() -> Response:
    """Database, migrations, broker and beat, each with its own verdict."""
    checks: dict[str, list[dict[str, Any]]] = {}
    worst = "pass"
    for name, verdict, detail in _checks():
        checks[name] = [{"status": verdict, "output": detail, "time": utc_now().isoformat()}]
        worst = max(worst, verdict, key=["pass", "warn", "fail"].index)
    return _health({"status": worst, "checks": checks}, 503 if worst == "fail" else 200)


@blueprint.get("/metrics")
def metrics() -> Response:
    """Prometheus text, for callers on this machine only."""
    if request.remote_addr not in LOCAL:
        return Response(status=404)
    gauges: Gauges = current_app.extensions["dipledger.gauges"]
    read = _measured()
    gauges.database.set(read is not None)
    return Response(
        generate_latest(gauges.registry) + (read or b""),
        content_type="text/plain; version=0.0.4; charset=utf-8",
    )


def _measured() -> bytes | None:
    """What the database knows; None while it does not answer, when the rest is wanted most."""
    try:
        with database().reading() as session:
            return text_of(session, current_app.extensions["dipledger.measures"], utc_now())
    except SQLAlchemyError:
        return None


def _health(body: dict[str, Any], status: int) -> Response:
    return Response(orjson.dumps(body), status=status, content_type="application/health+json")


def _checks() -> list[tuple[str, str, str]]:
    try:
        with database().reading() as session:
            session.execute(text("SELECT 1"))
            found = session.execute(text("SELECT version_num FROM alembic_version")).scalar()
            beats = {row.name: row.at for row in session.execute(select(Heartbeat.name, Heartbeat.at))}
    except SQLAlchemyError:
        return [("database", "fail", "The database does not answer or is not set up.")]
    head = current_app.extensions["dipledger.head"]
    last = beats.get("beat")
    late = last is None or utc_now() - last > LATE_BEAT
    return [
        ("database", "pass", "It answers."),
        ("migrations", *(("pass", "At head.") if found == head else ("fail", "Run 'dipledger db upgrade'."))),
        ("broker", *current_app.extensions["dipledger.broker"]()),
        (
            "beat",
            *(("warn", "Reminders are delayed: beat is not running.") if late else ("pass", "It beats.")),
        ),
        ("proofs", *_proven(beats.get(PROOF_HELD), beats.get(PROOF_FAILED))),
    ]


def _proven(held: datetime | None, failed: datetime | None) -> tuple[str, str]:
    if failed is not None and (held is None or held < failed):
        return "warn", f"The proof of {failed:%Y-%m-%d %H:%M} UTC failed: run 'dipledger check'."
    return "pass", "The last one held." if held is not None else "None was due yet."

"""Owed work: rows that say what must still be done. The broker only wakes those who do it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import JSON, Index, Select, String, delete, func, select, text, update
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.orm import Mapped, Session, mapped_column

from service.core.db import Base, Database, Moment, NewId, Text, snapshot
from service.core.ids import new_id

LEASE = timedelta(minutes=5)
MOST_ATTEMPTS = 5
WAITING = text("lease_token IS NULL AND parked_at IS NULL")
Write = Callable[[Session, Any, datetime], None]


@dataclass(frozen=True)
class ReadFirst:
    """A job that reads for long and writes a little: `read` is given a snapshot and keeps nobody waiting.

    What it gives is handed to `write` instead of the payload, in the transaction that strikes the job off.
    """

    read: Callable[[Session, Mapping[str, Any], datetime], Any]
    write: Write


Job = Write | ReadFirst


@dataclass(frozen=True)
class Leased:
    """A job that is this worker's for a while, by the token."""

    id: str
    token: str
    kind: str
    payload: Mapping[str, Any]


class OwedJob(Base):
    """One piece of owed work; at most one of a kind and key waits at a time."""

    __tablename__ = "owed_job"
    __table_args__ = (
        Index(
            "uq_owed_job_waiting", "kind", "key", unique=True, sqlite_where=WAITING, postgresql_where=WAITING
        ),
        Index("ix_owed_job_due_at", "due_at"),
    )

    id: Mapped[NewId]
    kind: Mapped[str] = mapped_column(String(40))
    key: Mapped[str] = mapped_column(String(80))
    payload: Mapped[Any] = mapped_column(JSON)
    due_at: Mapped[Moment]
    attempts: Mapped[int] = mapped_column(default=0)
    lease_token: Mapped[str | None] = mapped_column(String(36))
    lease_until: Mapped[Moment | None]
    last_error: Mapped[Text | None]
    parked_at: Mapped[Moment | None]


def owe(
    session: Session, kind: str, key: str, due_at: datetime, payload: Mapping[str, Any] | None = None
) -> None:
    """Owe a job; one that already waits under this key stands for both."""
    owe_each(session, kind, {key: payload or {}}, due_at)


def owe_each(
    session: Session, kind: str, payloads: Mapping[str, Mapping[str, Any]], due_at: datetime
) -> None:
    """Owe a job for each key with its payload, as `owe`; acts that owe the same keep to one order of keys."""
    if not payloads:
        return
    insert = postgresql_insert if session.get_bind().dialect.name == "postgresql" else sqlite_insert
    rows = [
        {"id": new_id(), "kind": kind, "key": key, "payload": dict(payload), "due_at": due_at, "attempts": 0}
        for key, payload in payloads.items()
    ]
    session.execute(
        insert(OwedJob)
        # Touching the waiting row locks it: a worker cannot strike it off before this act has committed.
        .on_conflict_do_update(
            index_elements=["kind", "key"], index_where=WAITING, set_={"due_at": OwedJob.due_at}
        ),
        rows,
    )


def lateness(session: Session, now: datetime) -> dict[str, float]:
    """For how many seconds the oldest due job of each kind has waited or been worked on."""
    oldest = (
        select(OwedJob.kind, func.min(OwedJob.due_at))
        .where(OwedJob.due_at <= now, OwedJob.parked_at.is_(None))
        .group_by(OwedJob.kind)
    )
    return {kind: (now - due_at).total_seconds() for kind, due_at in session.execute(oldest).all()}


def parked(session: Session, _now: datetime) -> dict[str, float]:
    """How many jobs of each kind were given up."""
    many = select(OwedJob.kind, func.count()).where(OwedJob.parked_at.is_not(None)).group_by(OwedJob.kind)
    return {kind: float(count) for kind, count in session.execute(many).all()}


def claim(session: Session, now: datetime, most: int) -> list[Leased]:
    """Lease up to `most` due jobs. Commit before doing them."""
    due = session.scalars(
        select(OwedJob)
        .where(OwedJob.due_at <= now, OwedJob.lease_token.is_(None), OwedJob.parked_at.is_(None))
        .order_by(OwedJob.due_at, OwedJob.id)
        .limit(most)
        .with_for_update(skip_locked=True)
    ).all()
    leased = []
    for job in due:
        token = new_id()
        job.lease_token, job.lease_until = token, now + LEASE
        job.attempts += 1
        leased.append(Leased(job.id, token, job.kind, job.payload))
    return leased


def perform(database: Database, leased: Leased, jobs: Mapping[str, Job], now: datetime) -> bool:
    """Do one leased job and strike it off in the same transaction; False when the lease was lost."""
    job, found = jobs[leased.kind], leased.payload
    if isinstance(job, ReadFirst):
        with snapshot(database) as seen:
            found = job.read(seen, found, now)
    with database.writing() as session:
        if session.scalars(_held(leased).with_for_update()).one_or_none() is None:
            return False
        write = job.write if isinstance(job, ReadFirst) else job
        write(session, found, now)
        session.execute(delete(OwedJob).where(OwedJob.id == leased.id))
    return True


def _held(leased: Leased) -> Select[OwedJob]:
    return select(OwedJob).where(OwedJob.id == leased.id, OwedJob.lease_token == leased.token)


def fail(session: Session, leased: Leased, error: str, now: datetime) -> None:
    """Give a failed job back with a growing delay; park it after the last attempt."""
    job = session.scalars(_held(leased)).one_or_none()
    if job is None:
        return
    job.last_error = error[:2000]
    if job.attempts >= MOST_ATTEMPTS:
        _park(job, now)
    else:
        _give_back(session, job, now + timedelta(seconds=10 * 4 ** (job.attempts - 1)))


def sweep(session: Session, now: datetime) -> int:
    """Give back every job whose lease ran out; its worker is dead."""
    lost = session.scalars(
        select(OwedJob)
        .where(OwedJob.lease_token.is_not(None), OwedJob.lease_until <= now)
        .with_for_update(skip_locked=True)
    ).all()
    for job in lost:
        if job.attempts >= MOST_ATTEMPTS:
            _park(job, now)
        else:
            _give_back(session, job, now)
    return len(lost)


def _park(job: OwedJob, now: datetime) -> None:
    job.parked_at, job.lease_token, job.lease_until = now, None, None


def _give_back(session: Session, job: OwedJob, due_at: datetime) -> None:
    waiting = session.scalars(
        select(OwedJob.id).where(
            OwedJob.kind == job.kind,
            OwedJob.key == job.key,
            OwedJob.lease_token.is_(None),
            OwedJob.parked_at.is_(None),
        )
    ).first()
    if waiting is not None:
        # The same work was owed again meanwhile; one row is enough.
        session.execute(delete(OwedJob).where(OwedJob.id == job.id))
        return
    session.execute(
        update(OwedJob).where(OwedJob.id == job.id).values(lease_token=None, lease_until=None, due_at=due_at)
    )


def outstanding(session: Session, kind: str) -> Sequence[str]:
    """The keys of the jobs of one kind that are not done yet."""
    return session.scalars(select(OwedJob.key).where(OwedJob.kind == kind).order_by(OwedJob.key)).all()

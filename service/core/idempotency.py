"""Idempotency-Key (IETF httpapi draft): the key, the effect and the answer commit together."""

import hashlib
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import orjson
import rfc8785
from flask import Response, abort, g, request
from sqlalchemy import JSON, LargeBinary, String, delete, func, select, update
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.orm import Mapped, Session, mapped_column

from service.core.bodies import parse_json
from service.core.db import Base, Moment
from service.core.http import caller, session
from service.core.problems import problem

KEPT = timedelta(days=7)
KEPT_HEADERS = ("Location", "ETag", "Content-Type")
FORM = re.compile(r'^(?:"([\x21\x23-\x7e]{1,255})"|([\x21\x23-\x7e]{1,255}))$')


class IdempotencyKey(Base):
    """One key of one caller on one address, with the answer it got."""

    __tablename__ = "idempotency_key"

    scope: Mapped[str] = mapped_column(String(64), primary_key=True)
    fingerprint: Mapped[str] = mapped_column(String(64))
    status: Mapped[int | None]
    headers: Mapped[Any] = mapped_column(JSON)
    body: Mapped[bytes | None] = mapped_column(LargeBinary)
    created_at: Mapped[Moment]


def begin(now: datetime) -> Response | None:
    """Claim the key of this request; gives the earlier answer, a refusal, or None to go on."""
    key = request.headers.get("Idempotency-Key")
    if key is None or request.method != "POST":
        return None
    form = FORM.match(key.strip())
    if form is None:
        abort(
            400,
            description="Idempotency-Key must be 1 to 255 printable ASCII characters, no blank and no quote.",
        )
    scope = _digest(caller().id, request.method, request.path, form[1] or form[2])
    fingerprint = _digest(request.full_path, request.mimetype, _canonical())
    writer = session()
    if not _alone(writer, scope):
        return problem(409, "idempotency-in-progress", "The first request with this key is still running.")
    earlier = writer.execute(
        select(IdempotencyKey).where(IdempotencyKey.scope == scope, IdempotencyKey.created_at > now - KEPT)
    ).scalar_one_or_none()
    if earlier is not None:
        return _replay(earlier, fingerprint)
    g.idempotency = {"scope": scope, "fingerprint": fingerprint, "created_at": now}
    return None


def keep(response: Response, *, secret: bool = False) -> None:
    """Store the answer beside its effect, in the same transaction; a secret in it is left out."""
    claimed = g.get("idempotency")
    if claimed is None:
        return
    writer = session()
    headers = {name: response.headers[name] for name in KEPT_HEADERS if name in response.headers}
    body = _without_secret(response.get_data()) if secret else response.get_data()
    kept = {**claimed, "status": response.status_code, "headers": headers, "body": body}
    insert = postgresql_insert if writer.get_bind().dialect.name == "postgresql" else sqlite_insert
    # What an earlier request left under this key is past its seven days.
    again = {name: value for name, value in kept.items() if name != "scope"}
    writer.execute(
        insert(IdempotencyKey).values(**kept).on_conflict_do_update(index_elements=["scope"], set_=again)
    )


def _without_secret(body: bytes) -> bytes:
    members = orjson.loads(body)
    return orjson.dumps({name: value for name, value in members.items() if name != "secret"})


def forget_old(writer: Session, now: datetime) -> None:
    """Delete keys past their seven days."""
    writer.execute(delete(IdempotencyKey).where(IdempotencyKey.created_at <= now - KEPT))


def change_answers(writer: Session, change: Callable[[Any], Any]) -> int:
    """Keep the JSON of each answer as `change` gives it back; gives how many are other ones now."""
    keys = select(IdempotencyKey.scope, IdempotencyKey.body).where(IdempotencyKey.body.is_not(None))
    changed = 0
    for scope, body in writer.execute(keys).all():
        try:
            kept = orjson.loads(body or b"null")
        except orjson.JSONDecodeError:
            continue  # a file
        other = change(kept)
        if other != kept:
            put = update(IdempotencyKey).where(IdempotencyKey.scope == scope)
            writer.execute(put.values(body=orjson.dumps(other)))
            changed += 1
    return changed


def _alone(writer: Session, scope: str) -> bool:
    # SQLite has one writer at a time anyway; on PostgreSQL a second request must not wait in line.
    if writer.get_bind().dialect.name != "postgresql":
        return True
    number = int.from_bytes(bytes.fromhex(scope[:16]), signed=True)
    return bool(writer.execute(select(func.pg_try_advisory_xact_lock(number))).scalar_one())


def _replay(earlier: IdempotencyKey, fingerprint: str) -> Response:
    if earlier.fingerprint != fingerprint:
        return problem(422, "idempotency-key-reused", "This key was used with another body; use a new key.")
    response = Response(earlier.body, status=earlier.status, headers=earlier.headers)
    response.headers["Idempotency-Replayed"] = "true"
    return response


def _canonical() -> str:
    body = request.get_data(cache=True)
    if request.mimetype != "application/json":
        return hashlib.sha256(body).hexdigest()
    return rfc8785.dumps(_texts(parse_json(body))).decode()


def _texts(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _texts(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_texts(item) for item in value]
    return str(value) if isinstance(value, int) and abs(value) > 2**53 else value


def _digest(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()

"""Signed heads of the journal, one line a night in a file beside the house.

Whoever alters the database may make the chain fit again, or cut its end off; a head that was kept elsewhere
shows it. Whoever also has the signing keys and every copy of the file can forge both.
"""

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, cast

import orjson
from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.clearance.issuing import signer
from service.clearance.signing import ALGORITHM
from service.journal.models import JournalEntry, JournalHead

JOB = "keep_head"
HEADS = "heads"  # where a session keeps the path of the file
TYPE = "journal-head+jwt"  # a head can never pass for a statement


@dataclass(frozen=True)
class Wrong:
    """A line of the file that the journal does not bear out, and why."""

    line: int
    said: str


def keep_head(session: Session, _payload: Any, now: datetime) -> None:
    """Append the head of the journal, signed, to the house's file of heads."""
    head = session.get_one(JournalHead, 1)
    claims = {"seq": head.seq, "hash": head.hash, "at": now.isoformat()}
    key = signer(session).keys[0]
    header = {"alg": ALGORITHM, "kid": key.thumbprint(), "typ": TYPE}
    signed = jws.serialize_compact(header, orjson.dumps(claims), key, algorithms=[ALGORITHM])
    _append(cast(Path, session.info[HEADS]), orjson.dumps({**claims, "signed": signed}))


def check_heads(session: Session, file: Path, keys: Sequence[OKPKey]) -> tuple[int, list[Wrong]]:
    """How many heads the file has, and the lines that a journal with a whole chain does not bear out.

    Every line is a head that was signed with one of `keys`, none is of an earlier entry than the one before,
    and each entry still has the hash that was signed. Raises OSError.
    """
    wrong, before, count = [], 0, 0
    for line, head in _lines(file, keys):
        count += 1
        if head is None:
            wrong.append(Wrong(line, "it is no head that a key of this house signed"))
            continue
        seq, hash_ = int(head["seq"]), str(head["hash"])
        there = session.scalar(select(JournalEntry.hash).where(JournalEntry.seq == seq))
        if seq < before:
            wrong.append(Wrong(line, f"it is of entry {seq}, and a line before of entry {before}"))
        elif there is None and seq:
            wrong.append(Wrong(line, f"on {head['at']} the journal had {seq} entries; entry {seq} is gone"))
        elif there != hash_ and seq:
            wrong.append(Wrong(line, f"entry {seq} is not the one that stood there on {head['at']}"))
        before = max(before, seq)
    return count, wrong


def _lines(file: Path, keys: Sequence[OKPKey]) -> Iterator[tuple[int, Mapping[str, Any] | None]]:
    with file.open("rb") as lines:
        for number, line in enumerate(lines, 1):
            yield number, _signed(line, {key.thumbprint(): key for key in keys})


def _signed(line: bytes, keys: Mapping[str, OKPKey]) -> Mapping[str, Any] | None:
    """The head of a line, when its signature is of a key of ours and says the same as the line."""
    try:
        said = orjson.loads(line)
        token = said.pop("signed").encode()
        header = jws.extract_compact(token).headers()
        found = jws.deserialize_compact(token, keys[header["kid"]], algorithms=[ALGORITHM])
        held: Mapping[str, Any] = orjson.loads(found.payload)
    except (ValueError, KeyError, AttributeError, TypeError, JoseError):
        return None
    return held if header.get("typ") == TYPE and held == said else None


def _append(file: Path, line: bytes) -> None:
    descriptor = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    try:
        os.write(descriptor, line + b"\n")
        os.fsync(descriptor)
    finally:
        os.close(descriptor)

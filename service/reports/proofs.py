"""Proofs that what is stored beside the facts is what the facts give: each night, and when asked."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import structlog
from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.clearance.queries import certificates_differ
from service.clearance.standing import standing_differs
from service.core.jobs import ReadFirst
from service.core.probes import PROOF_FAILED, PROOF_HELD, beat
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.models import Lot
from service.lots.rules import State
from service.photos.actions import COUNT, lost_photos
from service.quarantine.queries import LIVING, projection_differs
from service.reports.models import ConsumptionDay
from service.reports.queries import rollup_differs
from service.reports.rules import Consumed
from service.stores.ledger import wrong_balances
from service.stores.models import StockBatch

BY = "timetable"
NAMED = 20  # of what is wrong, in the journal and the log; the command names all
log = structlog.get_logger()


@dataclass(frozen=True)
class Proof:
    """What was held against the facts, how many of it there are, and which are wrong."""

    name: str
    says: str
    checked: int
    wrong: tuple[str, ...]


@dataclass(frozen=True)
class _Claim:
    says: str
    of: Select[int]
    wrong: Callable[[Session, datetime], Iterable[str]]


def _rollup_rows(session: Session, _now: datetime) -> list[str]:
    return sorted({_row(line) for line in rollup_differs(session)})


def _row(line: Consumed) -> str:
    return f"{line.day} material {line.material_id} {line.protocol or 'no protocol'} {line.reason}"


CLAIMS: Mapping[str, _Claim] = {
    "ledger": _Claim(
        "The balance of every batch is the sum of its lines.",
        select(func.count()).select_from(StockBatch),
        lambda session, _: wrong_balances(session),
    ),
    "rollup": _Claim(
        "The rollup of consumption is what the ledger gives.",
        select(func.count()).select_from(ConsumptionDay),
        _rollup_rows,
    ),
    "projection": _Claim(
        "The quarantine clock and release day of every living lot are what the facts give.",
        select(func.count()).select_from(Lot).where(LIVING, Lot.release_day_stale.is_(False)),
        projection_differs,
    ),
    "certificates": _Claim(
        "Every cleared lot has the valid certificate that it names.",
        select(func.count()).select_from(Lot).where(Lot.state == State.CLEARED.value),
        lambda session, _: certificates_differ(session),
    ),
    "standing": _Claim(
        "Every cleared lot is good until when its certificate and its last look say.",
        select(func.count()).select_from(Lot).where(Lot.state == State.CLEARED.value),
        standing_differs,
    ),
    "photos": _Claim(
        "Every photo is in the folder, as long as it was written.",
        COUNT,
        lambda session, _: lost_photos(session),
    ),
}


def prove(session: Session, now: datetime) -> list[Proof]:
    """Every proof; give it a `core.db.snapshot`, or what is done meanwhile looks like a difference."""
    return [
        Proof(name, claim.says, session.scalars(claim.of).one(), tuple(claim.wrong(session, now)))
        for name, claim in CLAIMS.items()
    ]


def _prove_tonight(seen: Session, _payload: Mapping[str, Any], now: datetime) -> list[Proof]:
    return prove(seen, now)


def _keep(session: Session, proofs: Sequence[Proof], now: datetime) -> None:
    _tell(proofs)
    held = not any(proof.wrong for proof in proofs)
    beat(session, PROOF_HELD if held else PROOF_FAILED, now)
    kind = "house.proved" if held else "house.proof_failed"
    record(session, Act(BY, now, now), kind, [], after={proof.name: _figures(proof) for proof in proofs})


PROVE_NIGHTLY = ReadFirst(_prove_tonight, _keep)
"""Job of the night: keep the result in log and journal, tell readiness; nothing is repaired.

`house.proved` or `house.proof_failed` with the figures of every proof.
"""


def _tell(proofs: Sequence[Proof]) -> None:
    for proof in proofs:
        tell = log.error if proof.wrong else log.info
        tell("proof failed" if proof.wrong else "proof held", proof=proof.name, **_figures(proof))


def _figures(proof: Proof) -> dict[str, Any]:
    return {"checked": proof.checked, "wrong": len(proof.wrong), "which": list(proof.wrong[:NAMED])}

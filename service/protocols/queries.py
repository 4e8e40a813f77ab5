"""Reading protocols and their versions, and gathering what a mixing sheet needs."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.protocols.figures import Figures, figures_of
from service.protocols.models import Protocol, ProtocolVersion
from service.protocols.sheets import Bench, Sheet, materials_of, sheet
from service.reference.incompatibilities import Incompatibility, UnknownSubstance
from service.reference.loader import shipped
from service.stores.models import Material, StockBatch
from service.stores.queries import batches_today
from service.stores.rules import BatchToday

PROTOCOL = ("id", "code", "method", "name", "created_at", "version")
Written = tuple[Protocol, ProtocolVersion]


@cache
def protocols() -> Select[Any]:
    """Every protocol with the number of its latest version."""
    latest = (
        select(func.max(ProtocolVersion.number))
        .where(ProtocolVersion.protocol_id == Protocol.id)
        .scalar_subquery()
    )
    return select(*(getattr(Protocol, name) for name in PROTOCOL), latest)


def protocol_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A protocol as listed."""
    return dict(zip((*PROTOCOL, "latest_version"), row, strict=True))


def protocol_by_code(session: Session, code: str, *, lock: bool = False) -> Protocol:
    """One protocol; raises NotFound."""
    statement = select(Protocol).where(Protocol.code == code)
    found = session.scalars(statement.with_for_update() if lock else statement).one_or_none()
    if found is None:
        raise NotFound("protocol")
    return found


def protocol_version(session: Session, code: str, number: int) -> Written:
    """One version of a protocol; raises NotFound."""
    found = _versions().where(Protocol.code == code, ProtocolVersion.number == number)
    row = session.execute(found).one_or_none()
    if row is None:
        raise NotFound("version of a protocol")
    return row[0], row[1]


def version_by_id(session: Session, version_id: str) -> Written:
    """One version of a protocol by its id; raises NotFound."""
    row = session.execute(_versions().where(ProtocolVersion.id == version_id)).one_or_none()
    if row is None:
        raise NotFound("version of a protocol")
    return row[0], row[1]


def asked_version(session: Session, body: Mapping[str, Any]) -> Written:
    """The version that a body names by `protocol` and `version`; raises Invalid."""
    try:
        return protocol_version(session, body["protocol"], body["version"])
    except NotFound:
        raise Invalid.at(
            "#/protocol", "There is no such version of a protocol.", code="unknown-protocol"
        ) from None


def latest_number(session: Session, protocol: Protocol) -> int:
    """The number of the latest version."""
    numbers = select(func.max(ProtocolVersion.number)).where(ProtocolVersion.protocol_id == protocol.id)
    return session.scalar(numbers) or 0


def version_view(protocol: Protocol, version: ProtocolVersion) -> dict[str, Any]:
    """One version as answered."""
    return {
        "protocol": protocol.code,
        "version": version.number,
        "method": protocol.method,
        "name": version.content["name"],
        "content": version.content,
        "reference_version": version.reference_version,
        "created_at": version.created_at,
        "created_by": version.created_by,
    }


def substances(session: Session) -> dict[str, str]:
    """The substance of every material by its code."""
    return {row.code: row.substance for row in session.execute(select(Material.code, Material.substance))}


def between(one: str, other: str) -> Incompatibility:
    """The verdict on two substances; two that nobody judged must never meet."""
    try:
        return shipped().incompatibilities.between(one, other)
    except UnknownSubstance:
        return Incompatibility(
            a=one,  # type: ignore[arg-type]  # a substance of the nursery's own
            b=other,  # type: ignore[arg-type]  # likewise
            verdict="none" if one == other else "never",
            reason="Nobody has judged these two together.",
            source="No entry",
            grade="assumption",
        )


def sheet_for(
    session: Session,
    written: Written,
    *,
    water_volume_l: float,
    at: datetime,
    chosen: Mapping[str, str] | None = None,
    only: int | None = None,
    residue_mg_per_l: float | None = None,
    lock: bool = False,
) -> Sheet:
    """The sheet of a protocol version at the strengths of the day `at`, first expired first out.

    `chosen` names a batch by material code; `only` takes one step; `lock` locks the batches. Raises Refused
    when a chosen batch is unknown, of another material or not usable.
    """
    protocol, version = written
    bench = bench_for(session, version.content, at=at, chosen=chosen or {}, lock=lock)
    bench = Bench(bench.figures, bench.batches, shipped().sheet_cautions, residue_mg_per_l)
    return sheet(
        version.content,
        bench,
        code=protocol.code,
        number=version.number,
        water_volume_l=water_volume_l,
        computed_for=at,
        reference_version=version.reference_version,
        only=only,
    )


def bench_for(
    session: Session,
    content: Mapping[str, Any],
    *,
    at: datetime,
    chosen: Mapping[str, str] | None = None,
    lock: bool = False,
) -> Bench:
    """The materials of a written treatment and their batches as they stand at `at`."""
    codes = materials_of(content)
    for code in chosen or {}:
        if code not in codes:
            raise Invalid.at(f"#/batches/{code}", "This treatment takes no such material.")
    found = batches_today(session, codes, at, lock=lock)
    for code, batch_id in (chosen or {}).items():
        found[code] = [_chosen(session, code, batch_id, found[code])]
    return Bench(figures(session, codes), found)


def figures(session: Session, codes: Sequence[str]) -> dict[str, Figures]:
    """What sheets must know about these materials."""
    rows = session.scalars(select(Material).where(Material.code.in_(codes)))
    return {
        row.code: figures_of(
            row.code,
            name=row.name,
            substance=row.substance,
            form=row.form,
            base_unit=row.base_unit,
            document=row.figures,
        )
        for row in rows
    }


def _versions() -> Select[Protocol, ProtocolVersion]:
    return select(Protocol, ProtocolVersion).join(ProtocolVersion, ProtocolVersion.protocol_id == Protocol.id)


def _chosen(session: Session, code: str, batch_id: str, known: Sequence[BatchToday]) -> BatchToday:
    for batch in known:
        if batch.batch_id == batch_id:
            if batch.usable:
                return batch
            raise Refused("batch-not-usable", f"This batch may not be used: {' '.join(batch.why_not)}")
    other = session.execute(
        select(Material.code)
        .join(StockBatch, StockBatch.material_id == Material.id)
        .where(StockBatch.id == batch_id)
    ).scalar_one_or_none()
    if other is None:
        raise Refused("unknown-batch", f"There is no such batch of {code}.")
    if other != code:
        raise Refused("wrong-material", f"This batch holds {other}, not {code}.")
    raise Refused("batch-not-usable", "This batch is empty.")

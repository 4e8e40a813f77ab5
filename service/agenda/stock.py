"""Due work in the stores: what to order, what to use up, what to dispose of."""

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.journal.notices import Noted, standing
from service.ordering.queries import LOW, SHORT
from service.stores.expiry import EXPIRED, EXPIRING, TOO_WEAK
from service.stores.models import Material, StockBatch
from service.stores.queries import in_words
from service.treatments.queries import running


def stock_work(session: Session) -> Iterator[Work]:
    """What the worker noted of materials, batches and courses, as long as it holds."""
    yield from _orders(session)
    yield from _short_courses(session)
    yield from _old_batches(session)


def _orders(session: Session) -> Iterator[Work]:
    noted = standing(session, LOW, "material")
    for material in session.scalars(select(Material).where(Material.id.in_(noted))):
        found = noted[material.id]
        packs = found.after.get("packs")
        wanted = (
            f"{packs} pack{'s' if packs != 1 else ''}" if packs else "see the reorder report for how much"
        )
        detail = f"What is free is at or below the reorder point: {wanted}."
        yield Work(Kind.ORDER, material.id, found.at, f"Order {material.name}", detail, None, ())


def _short_courses(session: Session) -> Iterator[Work]:
    noted = standing(session, SHORT, "treatment")
    for treatment in running(session):
        if treatment.id in noted:
            yield Work(
                Kind.ORDER,
                treatment.id,
                noted[treatment.id].at,
                "Order for a treatment",
                _missing(noted[treatment.id]),
                treatment.tub_id,
                (),
                treatment.id,
            )


def _missing(noted: Noted) -> str:
    parts = [
        f"{in_words(found['amount'], found['unit'])} of {found['material']} from {found['since']} on"
        for found in noted.after["missing"]
    ]
    return f"It will miss {' and '.join(parts)}."


def _old_batches(session: Session) -> Iterator[Work]:
    soon, over = standing(session, EXPIRING, "stock_batch"), standing(session, EXPIRED, "stock_batch")
    weak = standing(session, TOO_WEAK, "stock_batch")
    rows = session.execute(
        select(StockBatch, Material.name)
        .join(Material, Material.id == StockBatch.material_id)
        .where(StockBatch.id.in_([*soon, *over, *weak]), StockBatch.balance > 0)
        .order_by(StockBatch.id)
    )
    for batch, name in rows:
        noted = over.get(batch.id) or weak.get(batch.id) or soon[batch.id]
        kind = Kind.USE_UP if noted is soon.get(batch.id) else Kind.DISPOSE
        if kind is Kind.USE_UP and batch.blocked:
            continue  # nobody may use it
        verb = "Use up or replace" if kind is Kind.USE_UP else "Dispose of"
        detail = f"The last day to use it is {noted.after['last_day']}."
        if noted is weak.get(batch.id):
            verb, detail = "Test or dispose of", "By its age it is too weak to be used."
        yield Work(kind, batch.id, noted.at, f"{verb} {name}, batch {batch.batch_number}", detail, None, ())

"""What the labels of lots and tubs say."""

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.models import Plant
from service.clearance.label_pdf import Label
from service.core.errors import NotFound
from service.core.house import house
from service.lots.models import Lot
from service.tubs.models import Tub


def labels(session: Session, lot_ids: Sequence[str], tub_ids: Sequence[str], public_url: str) -> list[Label]:
    """One label each, lots first, in the order asked for; raises NotFound."""
    lots = {lot.id: lot for lot in session.scalars(select(Lot).where(Lot.id.in_(lot_ids)))}
    tubs = {tub.id: tub for tub in session.scalars(select(Tub).where(Tub.id.in_(tub_ids)))}
    if set(lot_ids) - set(lots):
        raise NotFound("lot")
    if set(tub_ids) - set(tubs):
        raise NotFound("tub")
    of_lots = [_lot(session, lots[id_], public_url) for id_ in lot_ids]
    us = house(session).units == "us"
    return of_lots + [_tub(tubs[id_], public_url, us=us) for id_ in tub_ids]


def usual_sheet(session: Session) -> str:
    """The sheet when none is named: US Letter for a house that reckons in US units, A4 otherwise."""
    return "letter-3x10" if house(session).units == "us" else "a4-3x8"


def _lot(session: Session, lot: Lot, public_url: str) -> Label:
    plant = session.get_one(Plant, lot.plant_id)
    lines = [plant.scientific_name, f"{lot.left} × {lot.unit_of_sale}", f"in {lot.received_at:%Y-%m-%d}"]
    if lot.certificate_serial is None:
        return Label(f"{public_url}/console/lots/{lot.id}", lot.code, lines)
    return Label(
        f"{public_url}/c/{lot.certificate_serial}", lot.code, [*lines, "Seller's own statement: scan"]
    )


def _tub(tub: Tub, public_url: str, *, us: bool) -> Label:
    # 1 US gallon is 3.785411784 L exactly (NIST Handbook 44, appendix C).
    volume = f"{tub.volume_l / 3.785411784:.3g} gal" if us else f"{tub.volume_l:g} L"
    lines = [*([] if tub.place is None else [tub.place]), volume]
    if tub.set_point_c is not None:
        lines.append(f"{tub.set_point_c * 1.8 + 32:.3g} °F" if us else f"{tub.set_point_c:g} °C")
    return Label(f"{public_url}/console/lots?tub={tub.id}", tub.code, lines)

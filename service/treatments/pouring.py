"""Taking from the stock what a step or a re-dose needs, or what a person says was poured."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.core.shapes import ExactAmount
from service.journal.acts import Act
from service.protocols.mixing import cap_reasons, per_unit
from service.protocols.queries import figures
from service.protocols.sheets import Need
from service.science import amounts
from service.science.amounts import Amount, UncalibratedDrop
from service.stores.actions import Drawn, draw
from service.stores.models import Material, StockBatch
from service.stores.queries import material_by_code, one_batch_today


@dataclass(frozen=True)
class Cause:
    """Why stock is drawn: the reason of the ledger, what caused it, and the rows it is about."""

    reason: str
    kind: str
    id: str
    treatment_id: str | None
    about: tuple[Any, ...]


@dataclass(frozen=True)
class Pour:
    """One amount that a person poured of a batch; `active_mg` is the substance in it."""

    batch_id: str
    base_units: int
    active_mg: float
    copper_form: str | None


def poured(
    session: Session, lines: Sequence[Mapping[str, Any]], material_code: str | None, at: datetime
) -> list[Pour]:
    """The lines of a body as pours of one material; Invalid with a pointer for a line that cannot be."""
    return [_pour(session, line, f"#/poured/{place}", material_code, at) for place, line in enumerate(lines)]


def result_mg_per_l(
    session: Session, pours: Sequence[Pour], material_code: str, volume_l: float, before_mg_per_l: float = 0.0
) -> float:
    """What the bath holds after the pours; Refused `over-cap` above what may ever be mixed."""
    result = before_mg_per_l + sum(pour.active_mg for pour in pours) / volume_l
    known = figures(session, [material_code])[material_code]
    reasons = cap_reasons(known, result, {pour.copper_form for pour in pours})
    Refused.unless_empty("over-cap", reasons)
    return result


def draw_needs(session: Session, act: Act, needs: Sequence[Need], cause: Cause) -> list[Drawn]:
    """Draw what a sheet takes from each batch."""
    found: list[Drawn] = []
    for need in needs:
        material = material_by_code(session, need.material_code)
        found += _drawn(session, act, material, cause, taken=(need.batch_id, need.base_units))
    return found


def draw_pours(
    session: Session, act: Act, pours: Sequence[Pour], material_code: str, cause: Cause
) -> list[Drawn]:
    """Draw what was poured."""
    material = material_by_code(session, material_code)
    return [
        drawn
        for pour in pours
        for drawn in _drawn(session, act, material, cause, taken=(pour.batch_id, pour.base_units))
    ]


def drawn_shape(drawn: Sequence[Drawn]) -> list[dict[str, Any]]:
    """What was drawn, as answered."""
    return [
        {
            "material": one.material_code,
            "batch_id": one.batch_id,
            "amount": ExactAmount.of(one.amount, one.base_unit),
        }
        for one in drawn
    ]


def _drawn(
    session: Session, act: Act, material: Material, cause: Cause, *, taken: tuple[str | None, int]
) -> list[Drawn]:
    batch_id, base_units = taken
    return draw(
        session,
        act,
        material=material,
        base_units=base_units,
        reason=cause.reason,
        cause_kind=cause.kind,
        cause_id=cause.id,
        treatment_id=cause.treatment_id,
        about=cause.about,
        batch_id=batch_id,
    )


def _pour(
    session: Session, line: Mapping[str, Any], pointer: str, material_code: str | None, at: datetime
) -> Pour:
    if material_code is None:
        raise Invalid.at(pointer, "This step takes no material.", code="nothing-to-pour")
    row = session.execute(
        select(Material.code, Material.base_unit, StockBatch.drop_ml)
        .join(StockBatch, StockBatch.material_id == Material.id)
        .where(StockBatch.id == line["batch_id"])
    ).one_or_none()
    if row is None or row.code != material_code:
        raise Invalid.at(f"{pointer}/batch_id", f"This is no batch of {material_code}.", code="wrong-batch")
    base_units = _base_units(line["amount"], row.base_unit, row.drop_ml, f"{pointer}/amount")
    today = one_batch_today(session, line["batch_id"], at)
    strength = per_unit(today) or 0.0
    return Pour(today.batch_id, base_units, base_units / 1000 * strength, today.copper_form)


def _base_units(amount: Amount, base_unit: str, drop_ml: float | None, pointer: str) -> int:
    wanted = "volume" if base_unit == "uL" else "mass"
    if amounts.dimension(amount.unit) != wanted:
        raise Invalid.at(pointer, f"This material is measured by {wanted}.", code="wrong-dimension")
    if base_unit == "mg":
        return amounts.milligrams(amount)
    try:
        return amounts.microlitres(amount, drop_ml=None if drop_ml is None else Decimal(str(drop_ml)))
    except UncalibratedDrop as problem:
        raise Invalid.at(pointer, str(problem), code="uncalibrated-drop") from problem

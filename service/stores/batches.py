"""The verbs on batches: receive, open, block, measure."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.core.errors import Forbidden, Invalid, Refused
from service.core.house import house
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.science.amounts import Amount, mg_per_l
from service.stores import queries
from service.stores.actions import Cause, post
from service.stores.labels import BLEACH, Basis, label_strength
from service.stores.materials import change
from service.stores.models import Material, StockBatch
from service.stores.quantities import base_units
from service.stores.rules_receipts import DUPLICATE, duplicate_number
from service.stores.shelves import put

UNIT_BASES = {"g/L": Basis.G_PER_L, "mg/L": Basis.G_PER_L, "1": Basis.MASS_FRACTION}

REWRITTEN = frozenset(
    {"measured_strength", "container_size", "shelf_id"}
)  # kept in other words than they are sent


def receive_batch(session: Session, act: Act, material: Material, facts: Mapping[str, Any]) -> StockBatch:
    """Take a batch in: its first line is what came.

    Invalid names what about it cannot be; Refused `duplicate-batch-number` asks to confirm a number that the
    material has already.
    """
    batch = prepared(session, act, material, facts)
    if not facts["confirm_duplicate"]:
        # The lock makes two receipts of one number at the same moment see each other.
        queries.material_by_id(session, material.id, lock=True)
        Refused.unless_empty(
            DUPLICATE,
            duplicate_number(batch.batch_number, queries.batch_numbers(session, material.id)),
            allowed=["confirm_duplicate"],
        )
    keep(session, act, material, batch)
    if facts["shelf_id"] is not None:
        put(session, act, batch, facts["shelf_id"])
    return batch


def prepared(session: Session, act: Act, material: Material, facts: Mapping[str, Any]) -> StockBatch:
    """A batch as it would be received, not yet kept; Invalid names what about it cannot be."""
    zone = house(session).time_zone
    _check_days(facts, local_day(act.at, zone), local_day(act.now, zone))
    drop_ml = facts["drop_ml"]
    quantity = base_units(material.base_unit, facts["quantity"], "#/quantity", drop_ml=drop_ml)
    value, basis, g_per_l, fraction = _strength(material, facts["strength"])
    cost = facts["cost"] or {}
    return StockBatch(
        material_id=material.id,
        batch_number=facts["batch_number"],
        received_at=act.at,
        made_on=facts["made_on"],
        opened_on=facts["opened_on"],
        expires_on=facts["expires_on"],
        strength_value=value,
        strength_basis=basis.value,
        strength_g_per_l=g_per_l,
        content_fraction=fraction,
        copper_form=facts["copper_form"] or material.figures.get("copper_form"),
        drop_ml=drop_ml,
        shelf_celsius=facts["shelf_celsius"],
        received=quantity,
        balance=0,
        container_base_units=_container(material, facts["container_size"], drop_ml),
        cost_minor=int(cost["value"] * 100) if cost else None,
        currency=cost.get("currency"),
    )


def keep(session: Session, act: Act, material: Material, batch: StockBatch) -> None:
    """Put a prepared batch into the store with its first line."""
    session.add(batch)
    session.flush()
    post(session, act, batch, batch.received, Cause(reason="receipt", kind="stock_batch", id=batch.id))
    after = {"material": material.code, "batch_number": batch.batch_number, "quantity": batch.received}
    record(session, act, "stock.batch_received", [batch], after=after)


def change_batch(
    session: Session, act: Act, batch: StockBatch, changes: Mapping[str, Any], *, by_manager: bool
) -> None:
    """Open, block, unblock (managers), measure or move a locked batch, or say what its containers hold."""
    columns = {name: value for name, value in changes.items() if name not in REWRITTEN}
    if "container_size" in changes:
        material = session.get_one(Material, batch.material_id)
        size = _container(material, changes["container_size"], batch.drop_ml)
        columns["container_base_units"] = size
    if "measured_strength" in changes:
        columns |= _measured(session, act, batch, changes["measured_strength"])
    if changes.get("blocked") is False and batch.blocked and not by_manager:
        raise Forbidden("A blocked batch is freed by a manager.")
    if changes.get("blocked") and not changes.get("block_reason"):
        raise Invalid.at("#/block_reason", "Say why the batch is blocked.", code="reason-missing")
    if changes.get("blocked") is False:
        columns["block_reason"] = None
    _check_opened(session, act, batch, changes.get("opened_on"))
    if "shelf_id" in changes:
        put(session, act, batch, changes["shelf_id"])
    change(session, act, "stock.batch_changed", batch, columns)


def _container(material: Material, size: Amount | None, drop_ml: float | None) -> int | None:
    return None if size is None else base_units(material.base_unit, size, "#/container_size", drop_ml=drop_ml)


def _check_days(facts: Mapping[str, Any], received_on: date, today: date) -> None:
    made, opened, expires = facts["made_on"], facts["opened_on"], facts["expires_on"]
    _in_order(made, received_on, "#/made_on", "It cannot have been made after it was received.")
    _in_order(opened, today, "#/opened_on", "It cannot have been opened in the future.")
    _in_order(made, opened, "#/opened_on", "It cannot have been opened before it was made.")
    _in_order(made, expires, "#/expires_on", "It cannot expire before it was made.")


def _in_order(earlier: date | None, later: date | None, pointer: str, detail: str) -> None:
    if earlier is not None and later is not None and earlier > later:
        raise Invalid.at(pointer, detail, code="wrong-day")


def _strength(
    material: Material, given: Mapping[str, Any] | None
) -> tuple[float, Basis, float | None, float | None]:
    allowed = [Basis(name) for name in material.figures["strength_basis"]]
    value, basis = _labelled(material, given, allowed)
    if basis not in allowed:
        choices = ", ".join(each.value for each in allowed)
        detail = f"The label of {material.code} says its strength as one of: {choices}."
        raise Invalid.at("#/strength/basis", detail, code="wrong-basis")
    try:
        return value, basis, *label_strength(value, basis)
    except ValueError as problem:
        raise Invalid.at("#/strength/value", str(problem), code="wrong-strength") from problem


def _labelled(
    material: Material, given: Mapping[str, Any] | None, allowed: list[Basis]
) -> tuple[float, Basis]:
    figures = material.figures
    if given is not None:
        if given.get("basis") is not None:
            return given["value"], Basis(given["basis"])
        return given["value"] / (1000 if given["unit"] == "mg/L" else 1), UNIT_BASES[given["unit"]]
    if figures.get("nominal_g_per_l") is not None:
        return figures["nominal_g_per_l"], Basis.G_PER_L
    if figures.get("content_fraction") is not None:
        return figures["content_fraction"], Basis.MASS_FRACTION
    of_bleach = " with its basis" if set(allowed) & set(BLEACH) else ""
    raise Invalid.at(
        "#/strength", f"Every bottle of {material.code} needs the strength on its label{of_bleach}."
    )


def _measured(session: Session, act: Act, batch: StockBatch, strength: Amount) -> dict[str, Any]:
    material = session.get_one(Material, batch.material_id)
    if material.form != "liquid":
        raise Invalid.at("#/measured_strength", "Only the strength of a liquid is measured.")
    not_before(act.at, batch.measured_at or batch.received_at, "it was last measured or received")
    return {"measured_g_per_l": float(mg_per_l(strength)) / 1000, "measured_at": act.at}


def _check_opened(session: Session, act: Act, batch: StockBatch, opened: date | None) -> None:
    today = local_day(act.now, house(session).time_zone)
    _in_order(opened, today, "#/opened_on", "It cannot have been opened in the future.")
    _in_order(batch.made_on, opened, "#/opened_on", "It cannot have been opened before it was made.")

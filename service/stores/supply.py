"""On what terms a material is delivered: packs, least order, costs, and how long it takes."""

from collections.abc import Mapping
from typing import Any

from service.core.errors import Invalid
from service.core.shapes import ExactAmount
from service.stores.models import Material
from service.stores.quantities import base_units

PLAIN = ("lead_time_days", "lead_time_deviation_days", "service_level")
AMOUNTS = {"pack": "pack_base_units", "least_order": "least_order_base_units"}
COSTS = {"pack_cost": "pack_cost_minor", "order_cost": "order_cost_minor"}
TERMS = (*PLAIN, *AMOUNTS, *COSTS)
COLUMNS = (*PLAIN, *AMOUNTS.values(), *COSTS.values(), "order_currency")


def columns(material: Material, terms: Mapping[str, Any]) -> dict[str, Any]:
    """The columns that these terms set; Invalid for a wrong dimension and for costs in two currencies."""
    found = {name: terms[name] for name in PLAIN if name in terms}
    for name, column in AMOUNTS.items():
        if name in terms:
            given = terms[name]
            found[column] = None if given is None else base_units(material.base_unit, given, f"#/{name}")
    for name, column in COSTS.items():
        if name in terms:
            found[column] = None if terms[name] is None else int(terms[name]["value"] * 100)
    return found | _currency(material, terms)


def terms_shape(base_unit: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """The terms as answered."""
    amounts = {name: _amount(row[column], base_unit) for name, column in AMOUNTS.items()}
    costs = {name: money(row[column], row["order_currency"]) for name, column in COSTS.items()}
    return {**{name: row[name] for name in PLAIN}, **amounts, **costs}


def money(minor: int | None, currency: str | None) -> dict[str, Any] | None:
    """Hundredths of a currency as exact text."""
    return None if minor is None else {"value": f"{minor // 100}.{minor % 100:02d}", "currency": currency}


def _amount(base_units_: int | None, base_unit: str) -> ExactAmount | None:
    return None if base_units_ is None else ExactAmount.of(base_units_, base_unit)


def _currency(material: Material, terms: Mapping[str, Any]) -> dict[str, str]:
    given = {name: terms[name]["currency"] for name in COSTS if terms.get(name)}
    kept = any(getattr(material, column) is not None for name, column in COSTS.items() if name not in terms)
    known = {*given.values(), *([material.order_currency] if kept and material.order_currency else [])}
    if len(known) > 1:
        detail = "Pack and order are paid in one currency: give both costs in it."
        raise Invalid.at(f"#/{next(iter(given))}/currency", detail)
    return {"order_currency": known.pop()} if given else {}

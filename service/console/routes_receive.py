"""Receiving a shipment: the supplier's lines pasted, looked over, and counted in."""

from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint
from service.console.queries_lot import lots_by_ids
from service.console.rules_paste import PastedLine, parts_of, pasted
from service.core.inside import reading

EMPTY_LINES = 3


@blueprint.get("/receive")
def receive(problem: Any = None) -> str:
    """Show the form: empty, or with the pasted lines as understood."""
    plants = list(asking.everything("/plants"))
    if request.method == "POST" and forms.rows("lines"):
        lines = [_sent(row) for row in forms.rows("lines")]
    else:
        lines = [_understood(line) for line in pasted(request.values.get("pasted", ""), plants)]
        lines += [_understood(PastedLine("", None, None, ()))] * (EMPTY_LINES if not lines else 1)
    expected = list(asking.everything("/shipments", expected="true"))
    return render_template(
        "console/receive.html",
        lines=lines,
        plants=plants,
        restricted={plant["id"]: plant for plant in plants if plant["restricted"]},
        suppliers=list(asking.everything("/suppliers")),
        tubs=[one for one in asking.everything("/tubs") if one["active"]],
        expected=expected,
        problem=problem,
        pasted=request.values.get("pasted", ""),
    )


@blueprint.post("/receive/read")
def read_lines() -> str:
    """Read the pasted lines; nothing is stored."""
    return receive()


@blueprint.post("/receive")
def count_in() -> Response | tuple[str, int]:
    """Count the shipment in: lots and their labels come out."""
    if forms.ticked("more"):
        return receive(), 200
    supplier = forms.text("supplier_id") or _new_supplier()
    if not isinstance(supplier, str):
        return receive(supplier), 422
    number, plants = forms.text("document"), list(asking.everything("/plants"))
    body = {
        "supplier_id": supplier,
        "received_at": forms.moment("at"),
        "late_reason": forms.text("late_reason"),
        "documents": [{"kind": forms.text("document_kind"), "number": number}] if number else [],
        "lines": [_body(line, plants) for line in map(_sent, forms.rows("lines")) if line["quantity"]],
        "note": forms.text("note"),
    }
    answer = asking.act("/shipments", forms.without_empty(body))
    if not answer.ok:
        return receive(answer.body), answer.status
    return redirect(url_for("console.shipment", shipment_id=answer.body["id"]), 303)


@blueprint.get("/shipments/<id:shipment_id>")
def shipment(shipment_id: str, problem: Any = None) -> str:
    """One shipment with its lots."""
    found = asking.read(f"/shipments/{shipment_id}")
    plants = {plant["id"]: plant for plant in asking.everything("/plants")}
    ids = [one["id"] for one in found["lots"]]
    with reading() as reader:
        lots = lots_by_ids(reader, ids)
    return render_template(
        "console/shipment.html",
        shipment=found,
        plants=plants,
        lots=[lots[lot_id] for lot_id in ids],
        problem=problem,
    )


@blueprint.post("/shipments/<id:shipment_id>/receipt")
def count_in_expected(shipment_id: str) -> Response | tuple[str, int]:
    """An expected shipment is here: count its lines in."""
    counts = [
        {"n": int(row), "quantity": forms.whole(f"count-{row}-quantity")} for row in forms.rows("count")
    ]
    answer = asking.act(f"/shipments/{shipment_id}/receipt", {"lines": counts, **forms.when()})
    if not answer.ok:
        return shipment(shipment_id, answer.body), answer.status
    return redirect(url_for("console.shipment", shipment_id=shipment_id), 303)


def _new_supplier() -> Any:
    """The id of a supplier of this name, made if need be: a refused shipment may have left it; or why not."""
    name, country = forms.text("supplier_name"), forms.text("supplier_country")
    known = {one["name"]: one["id"] for one in asking.everything("/suppliers")}
    if name in known:
        return known[name]
    answer = asking.act("/suppliers", forms.without_empty({"name": name, "country": country}), part="s")
    return answer.body["id"] if answer.ok else answer.body


def _understood(line: PastedLine) -> dict[str, Any]:
    return {
        "text": line.text,
        "quantity": line.quantity or "",
        "unit": line.unit or "pot",
        "plant": line.plants[0] if len(line.plants) == 1 else "",
        "unclear": bool(line.text) and len(line.plants) != 1,
        "tub": "",
        "treatment": "",
        "wool": False,
        "parts": "",
    }


def _sent(row: str) -> dict[str, Any]:
    name = f"lines-{row}"
    return {
        "text": forms.text(f"{name}-text") or "",
        "quantity": forms.whole(f"{name}-quantity") or "",
        "unit": forms.text(f"{name}-unit"),
        "plant": forms.text(f"{name}-plant") or "",
        "unclear": False,
        "tub": forms.text(f"{name}-tub") or "",
        "treatment": forms.text(f"{name}-treatment") or "",
        "wool": forms.ticked(f"{name}-wool"),
        "parts": forms.text(f"{name}-parts") or "",
    }


def _body(line: dict[str, Any], plants: list[Any]) -> dict[str, Any]:
    body = {
        "plant_id": line["plant"],
        "quantity": line["quantity"],
        "unit_of_sale": line["unit"],
        "tub_id": line["tub"] or None,
        "supplier_treatment": line["treatment"] or None,
        "kept_in_wool": line["wool"],
        "strata": parts_of(line["parts"], plants) or None,
    }
    return forms.without_empty(body)

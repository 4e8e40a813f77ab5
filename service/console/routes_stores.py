"""The stores: what each bottle holds today, what comes in, is counted and disposed of, and what to order."""

from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint
from service.console.rules_shelf import Bars, bars

Page = Response | tuple[str, int]
DAYS = 60


@blueprint.get("/stores")
def stores(problem: Any = None) -> str:
    """The shelf: every material with its bottles, its days left, and when to order."""
    batches: dict[str, list[Any]] = {}
    for batch in asking.everything("/stock-batches"):
        batches.setdefault(batch["material"], []).append(batch)
    orders = {row["material"]: row for row in asking.read("/reports/reorder")["rows"]}
    materials = list(asking.everything("/materials"))
    projection: dict[str, list[Any]] = {}
    for row in asking.read("/reports/projection", days=DAYS)["rows"]:
        projection.setdefault(row["material"], []).append(row)
    shown = sorted(materials, key=lambda one: (one["code"] not in batches, one["name"]))
    return render_template(
        "console/stores.html",
        materials=shown,
        batches=batches,
        orders=orders,
        plots={code: _bars(rows) for code, rows in projection.items() if code in batches},
        problem=problem,
        done=request.args.get("done", ""),
        days=DAYS,
    )


@blueprint.get("/stores/batches/<id:batch_id>")
def batch(batch_id: str, problem: Any = None) -> str:
    """One bottle or bag: what is done with it, and its lines in the ledger."""
    found = asking.read(f"/stock-batches/{batch_id}")
    return render_template(
        "console/batch.html",
        batch=found,
        uses=asking.read(f"/stock-batches/{batch_id}/uses"),
        entries=asking.read("/stock-entries", batch=batch_id, limit=asking.MOST)["items"],
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.get("/stores/receive")
def receive_stock(problem: Any = None) -> str:
    """Receive a bottle or bag."""
    wanted = request.values.get("material", "")
    materials = list(asking.everything("/materials"))
    chosen = next((one for one in materials if one["id"] == wanted), None)
    return render_template(
        "console/receive_stock.html",
        materials=materials,
        chosen=chosen,
        shelves=list(asking.everything("/shelves")),
        problem=problem,
    )


@blueprint.post("/stores/receive")
def receive_stock_now() -> Page:
    """Put it on the shelf."""
    strength, basis = forms.number("strength"), forms.text("basis")
    body = {
        "batch_number": forms.text("batch_number"),
        "quantity": forms.amount("quantity"),
        "made_on": forms.text("made_on"),
        "opened_on": forms.text("opened_on"),
        "expires_on": forms.text("expires_on"),
        "strength": {"value": strength, "basis": basis} if strength is not None else None,
        "copper_form": forms.text("copper_form"),
        "shelf_id": forms.text("shelf_id"),
        "cost": _cost(),
        "confirm_duplicate": True if forms.ticked("confirm_duplicate") else None,
        **forms.when(),
    }
    answer = asking.act(f"/materials/{forms.text('material')}/batches", forms.without_empty(body))
    if not answer.ok:
        return receive_stock(answer.body), answer.status
    return redirect(url_for("console.batch", batch_id=answer.body["id"], done="yes"), 303)


@blueprint.post("/stores/batches/<id:batch_id>/count")
def count(batch_id: str) -> Page:
    """What was really found in it."""
    body = {"batch_id": batch_id, "counted": forms.amount("counted"), "note": forms.text("note")}
    return _booked(batch_id, "/stock-counts", body)


@blueprint.post("/stores/batches/<id:batch_id>/dispose")
def dispose(batch_id: str) -> Page:
    """What is thrown away or sent back."""
    body = {
        "batch_id": batch_id,
        "quantity": forms.amount("quantity"),
        "way": forms.text("way"),
        "reason": forms.text("reason"),
    }
    return _booked(batch_id, "/stock-disposals", body)


@blueprint.post("/stores/batches/<id:batch_id>/entries/<id:entry_id>/reverse")
def reverse(batch_id: str, entry_id: str) -> Page:
    """A line that was wrong is taken back by a second one."""
    return _booked(batch_id, f"/stock-entries/{entry_id}/reversal", {"reason": forms.text("reason")})


def _booked(batch_id: str, path: str, body: dict[str, Any]) -> Page:
    answer = asking.act(path, forms.without_empty(body) | forms.when())
    if not answer.ok:
        return batch(batch_id, answer.body), answer.status
    return redirect(url_for("console.batch", batch_id=batch_id, done="yes"), 303)


def _cost() -> dict[str, Any] | None:
    value, currency = forms.number("cost"), forms.text("currency")
    return None if value is None else {"value": value, "currency": currency or "EUR"}


def _bars(rows: list[Any]) -> Bars:
    return bars([(row["day"], float(row["balance"]["value"])) for row in rows])

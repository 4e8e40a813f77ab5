"""The sales side: ready lots, dispatches with their pick list, certificates and recalls."""

from typing import Any

from flask import g, redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint, person
from service.console.queries_lot import lots_to_choose
from service.console.routes_orders import ship_to
from service.core.inside import reading

Page = Response | tuple[str, int]
LINES = 4


@blueprint.get("/sales")
def sales(problem: Any = None) -> str:
    """What may be sold now, and what has left."""
    ready = asking.read("/lots", ready="true", limit=asking.MOST)["items"]
    return render_template(
        "console/sales.html",
        ready=ready,
        inventory=asking.read("/inventory")["rows"],
        names={plant["id"]: plant for plant in asking.everything("/plants")},
        dispatches=asking.read("/dispatches", **asking.page_query()),
        shown=max(LINES, len(forms.rows("pick")) if request.method == "POST" else 0),
        problem=problem,
        packer=person().name,
        done=request.args.get("done", ""),
    )


@blueprint.post("/sales/dispatch")
def dispatch() -> Page:
    """Send plants off, after the last glance."""
    lines = [
        {"lot_id": forms.text(f"pick-{row}-lot"), "quantity": forms.whole(f"pick-{row}-quantity")}
        for row in forms.rows("pick")
        if forms.text(f"pick-{row}-quantity")
    ]
    packed = {"by": person().name, "at": g.now.isoformat(), "ok": True} if forms.ticked("packed") else None
    body = {
        "order_ref": forms.text("order_ref"),
        "customer_ref": forms.text("customer_ref"),
        "pack_check": packed,
        "ship_to": ship_to(),
        "with_registration": forms.ticked("with_registration"),
        "lines": lines,
    }
    answer = asking.act("/dispatches", forms.without_empty(body) | forms.when())
    if not answer.ok:
        return sales(answer.body), answer.status
    return redirect(url_for("console.sales", done="yes"), 303)


@blueprint.post("/sales/dispatches/<id:dispatch_id>/reverse")
def reverse_dispatch(dispatch_id: str) -> Page:
    """It never left: the plants are back on the shelf."""
    answer = asking.act(f"/dispatches/{dispatch_id}/reversal", {"reason": forms.text("reason") or ""})
    if not answer.ok:
        return sales(answer.body), answer.status
    return redirect(url_for("console.sales", done="yes"), 303)


@blueprint.get("/certificates")
def certificates() -> str:
    """Every certificate, the newest first."""
    found = asking.read("/certificates", **asking.page_query())
    return render_template("console/certificates.html", found=found)


@blueprint.get("/certificates/<serial>")
def certificate(serial: str, problem: Any = None) -> str:
    """One certificate, and how it is revoked."""
    found = asking.read(f"/certificates/{serial}")
    return render_template("console/certificate.html", certificate=found, problem=problem)


@blueprint.get("/certificates/<serial>/replay")
def replay(serial: str) -> str:
    """The decision behind a certificate judged again from what it was judged by."""
    return render_template("console/replay.html", replay=asking.read(f"/certificates/{serial}/replay"))


@blueprint.post("/certificates/<serial>/revoke")
def revoke(serial: str) -> Page:
    """Take it back; its lot goes back to quarantine."""
    answer = asking.act(f"/certificates/{serial}/revocation", {"reason": forms.text("reason") or ""})
    if not answer.ok:
        return certificate(serial, answer.body), answer.status
    return redirect(url_for("console.certificate", serial=serial), 303)


@blueprint.get("/recalls")
def recalls(problem: Any = None) -> str:
    """Every recall, and starting one."""
    found = asking.read("/recalls", **asking.page_query())
    return render_template(
        "console/recalls.html",
        found=found,
        lots=_sellable(),
        code=request.args.get("code", ""),
        problem=problem,
    )


@blueprint.post("/recalls")
def start_recall() -> Page:
    """Stop everything within reach at once."""
    body = {
        "lot_id": forms.text("lot_id"),
        "reason": forms.text("reason") or "",
        "since": forms.moment("since"),
    }
    answer = asking.act("/recalls", forms.without_empty(body))
    if not answer.ok:
        return recalls(answer.body), answer.status
    return redirect(url_for("console.recall", recall_id=answer.body["id"]), 303)


@blueprint.get("/recalls/<id:recall_id>")
def recall(recall_id: str, problem: Any = None) -> str:
    """One recall: what was stopped, who must be told, what is still to be looked at."""
    found = asking.read(f"/recalls/{recall_id}")
    return render_template("console/recall.html", recall=found, problem=problem)


@blueprint.post("/recalls/<id:recall_id>/told")
def told(recall_id: str) -> Page:
    """A customer was told."""
    body = {
        "dispatch_id": forms.text("dispatch_id"),
        "way": forms.text("way"),
        "note": forms.text("note"),
    }
    return _followed(recall_id, "notices", forms.without_empty(body))


@blueprint.post("/recalls/<id:recall_id>/extend")
def extend(recall_id: str) -> Page:
    """Take in what has come within reach since."""
    return _followed(recall_id, "extension", {})


@blueprint.post("/recalls/<id:recall_id>/close")
def close_recall(recall_id: str) -> Page:
    """Everything is done: say how it ended."""
    return _followed(recall_id, "closing", {"conclusion": forms.text("conclusion") or ""})


def _followed(recall_id: str, what: str, body: dict[str, Any]) -> Page:
    answer = asking.act(f"/recalls/{recall_id}/{what}", body)
    if not answer.ok:
        return recall(recall_id, answer.body), answer.status
    return redirect(url_for("console.recall", recall_id=recall_id), 303)


def _sellable() -> list[Any]:
    with reading() as reader:
        return lots_to_choose(reader, ("cleared", "in_quarantine"), request.args.get("code", ""))

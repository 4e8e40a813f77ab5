"""Orders: what is promised to them, the list to pick by, sending off, and the parcel's own certificates."""

from collections.abc import Mapping
from typing import Any

from flask import abort, g, redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint, person
from service.console.queries_lot import lots_by_ids
from service.core.inside import reading

Page = Response | tuple[str, int]
LINES = 4
LIVING = ("confirmed", "open")
MOST_BACK = 20  # new lots that are named after a return


@blueprint.get("/reservations")
def reservations(problem: Any = None) -> str:
    """What is promised and not sent yet; or, asked for, what is over."""
    status = request.args.get("status", "")
    if status:
        found = asking.read("/reservations", status=status, **asking.page_query())
    else:
        living = [one for state in LIVING for one in asking.everything("/reservations", status=state)]
        found = {"items": living, "next": None}
    return render_template(
        "console/reservations.html",
        found=found,
        status=status,
        ready=asking.read("/lots", ready="true", limit=asking.MOST)["items"],
        shown=max(LINES, len(forms.rows("pick")) if request.method == "POST" else 0),
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.post("/reservations")
def reserve() -> Page:
    """Promise plants to an order."""
    lines = [
        {"lot_id": forms.text(f"pick-{row}-lot"), "quantity": forms.whole(f"pick-{row}-quantity")}
        for row in forms.rows("pick")
        if forms.text(f"pick-{row}-quantity")
    ]
    body = {
        "order_ref": forms.text("order_ref"),
        "customer_ref": forms.text("customer_ref"),
        "expires_at": forms.moment("expires_at"),
        "lines": lines,
    }
    answer = asking.act("/reservations", forms.without_empty(body))
    if not answer.ok:
        return reservations(answer.body), answer.status
    return redirect(url_for("console.pick_list", reservation_id=answer.body["id"]), 303)


@blueprint.get("/reservations/<id:reservation_id>")
def pick_list(reservation_id: str, problem: Any = None) -> str:
    """One order: the list to pick by, and what may be done with it."""
    found = asking.read(f"/reservations/{reservation_id}")
    with reading() as reader:
        lots = lots_by_ids(reader, {line["lot_id"] for line in found["lines"]})
    owed = [
        {**line, "owed": line["quantity"] - line["sent"] - line["freed"]}
        for line in found["lines"]
        if line["quantity"] > line["sent"] + line["freed"]
    ]
    return render_template(
        "console/reservation.html",
        reservation=found,
        owed=owed,
        lots=lots,
        tubs={one["id"]: one["code"] for one in asking.everything("/tubs")},
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.post("/reservations/<id:reservation_id>/confirm")
def confirm_reservation(reservation_id: str) -> Page:
    """The order is paid: it holds until it is sent."""
    return _followed(reservation_id, asking.act(f"/reservations/{reservation_id}/confirmation", {}))


@blueprint.post("/reservations/<id:reservation_id>/cancel")
def cancel_reservation(reservation_id: str) -> Page:
    """The order is off: others may have the plants."""
    return _followed(reservation_id, asking.act(f"/reservations/{reservation_id}", None, method="DELETE"))


@blueprint.post("/reservations/<id:reservation_id>/send")
def send_reservation(reservation_id: str) -> Page:
    """Send off everything it still owes, after the last glance."""
    found = asking.read(f"/reservations/{reservation_id}")
    packed = {"by": person().name, "at": g.now.isoformat(), "ok": True} if forms.ticked("packed") else None
    body = {
        "order_ref": found["order_ref"],
        "customer_ref": found["customer_ref"],
        "reservation_id": reservation_id,
        "pack_check": packed,
        "ship_to": ship_to(),
        "with_registration": forms.ticked("with_registration"),
    }
    answer = asking.act("/dispatches", forms.without_empty(body))
    if not answer.ok:
        return pick_list(reservation_id, answer.body), answer.status
    sent = answer.body
    return redirect(url_for("console.parcel", dispatch_id=sent["id"], order=sent["order_ref"]), 303)


@blueprint.get("/dispatches/<id:dispatch_id>")
def parcel(dispatch_id: str, problem: Any = None) -> str:
    """What was sent to an order, and the certificates that its parcel has of its own."""
    order = request.values.get("order", "")
    sent = next(
        (one for one in asking.everything("/dispatches", order_ref=order) if one["id"] == dispatch_id), None
    )
    if sent is None:
        abort(404)
    return render_template(
        "console/parcel.html",
        sent=sent,
        certificates=asking.read(f"/dispatches/{dispatch_id}/certificates")["items"],
        came_back=[asking.read(f"/lots/{lot_id}") for lot_id in request.args.getlist("back")[:MOST_BACK]],
        tubs=[one for one in asking.everything("/tubs") if one["active"]],
        problem=problem,
    )


@blueprint.post("/dispatches/<id:dispatch_id>/certify")
def certify_parcel(dispatch_id: str) -> Page:
    """A certificate for what the parcel has of each lot; one that stands already stays."""
    answer = asking.act(f"/dispatches/{dispatch_id}/certificates", {})
    if not answer.ok:
        return parcel(dispatch_id, answer.body), answer.status
    order = request.values.get("order", "")
    return redirect(url_for("console.parcel", dispatch_id=dispatch_id, order=order), 303)


@blueprint.post("/dispatches/<id:dispatch_id>/return")
def take_back(dispatch_id: str) -> Page:
    """A customer sent some of it back: each line becomes a lot that begins anew."""
    order = request.values.get("order", "")
    lines = [
        {"lot_id": forms.text(f"back-{row}-lot"), "quantity": forms.whole(f"back-{row}-quantity")}
        for row in forms.rows("back")
        if forms.text(f"back-{row}-quantity")
    ]
    body = {
        "dispatch_id": dispatch_id,
        "lines": lines,
        "reason": forms.text("reason"),
        "treated_with": forms.text("treated_with"),
        "tub_id": forms.text("tub_id"),
        "share_water": forms.ticked("share_water"),
    }
    answer = asking.act("/returns", forms.without_empty(body) | forms.when())
    if not answer.ok:
        return parcel(dispatch_id, answer.body), answer.status
    back = [lot["id"] for lot in answer.body["lots"]]
    return redirect(url_for("console.parcel", dispatch_id=dispatch_id, order=order, back=back), 303)


def ship_to() -> Mapping[str, Any] | None:
    """Where it goes, when the form says so."""
    country = forms.text("country")
    if country is None:
        return None
    return forms.without_empty({"country": country, "subdivision": forms.text("subdivision")})


def _followed(reservation_id: str, answer: Any) -> Page:
    if not answer.ok:
        return pick_list(reservation_id, answer.body), answer.status
    return redirect(url_for("console.pick_list", reservation_id=reservation_id, done="yes"), 303)

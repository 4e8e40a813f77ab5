"""When can I sell it? The list of lots, one lot with its picture and gates, and what is done to it."""

from collections.abc import Mapping
from typing import Any

from flask import g, redirect, render_template, request, url_for
from werkzeug import Response

from service.accounts.rules import MANAGERS
from service.console import asking, forms
from service.console.door import blueprint, person
from service.console.queries_lot import actors, quarantine_of, soon_of
from service.console.rules_board import progress, reason_code
from service.console.rules_picture import draw
from service.core.inside import reading

FILTERS = ("state", "tub", "plant", "supplier", "ready")
Page = Response | tuple[str, int]


@blueprint.get("/lots")
def lots() -> str:
    """List lots with the day from which each can be sold, or why not."""
    asked = {name: request.args.get(name, "") for name in FILTERS}
    found = asking.read("/lots", **asked, **asking.page_query())
    with reading() as reader:
        soon = soon_of(reader, [lot["id"] for lot in found["items"]])
    rows = [
        {
            **lot,
            "reason": reason_code(
                lot, soon[lot["id"]].next_look_at, g.now, decidable=soon[lot["id"]].decidable
            ),
            "next_look_at": soon[lot["id"]].next_look_at,
            "progress": progress(lot["clock_started_at"], lot["release_day"], g.now),
        }
        for lot in found["items"]
    ]
    tubs = {one["id"]: one["code"] for one in asking.everything("/tubs")}
    return render_template("console/lots.html", rows=rows, found=found, tubs=tubs, asked=asked)


@blueprint.get("/lots/<id:lot_id>")
def lot(lot_id: str, problem: Any = None) -> str:
    """Show one lot."""
    read = asking.read_answer(f"/lots/{lot_id}")
    found = read.body
    judged = asking.read(f"/lots/{lot_id}/clearance")
    with reading() as reader:
        drawn = quarantine_of(reader, lot_id, g.now)
        names = actors(reader)
    return render_template(
        "console/lot.html",
        lot=found,
        etag=read.etag,
        judged=judged,
        picture=draw(drawn.scene) if drawn else None,
        scene=drawn.scene if drawn else None,
        advice=drawn.advice if drawn else None,
        tubs={one["id"]: one["code"] for one in asking.everything("/tubs") if one["active"]},
        treatments=asking.read("/treatments", lot=lot_id)["items"],
        looks=asking.read("/inspections", lot=lot_id, limit=asking.MOST)["items"],
        certificates=asking.read(f"/lots/{lot_id}/certificates")["items"],
        history=_history(lot_id),
        names=names,
        problem=problem,
        policies=_policies() if person().role in MANAGERS else [],
        done=request.args.get("done", ""),
    )


@blueprint.post("/lots/<id:lot_id>/decide")
def decide(lot_id: str) -> Page:
    """Decide on the version that was shown; every gate must hold."""
    body = forms.without_empty({"policy": forms.text("policy")})
    return _acted(lot_id, f"/lots/{lot_id}/clearance", body, etag=forms.text("etag"))


@blueprint.post("/lots/<id:lot_id>/move")
def move(lot_id: str) -> Page:
    """Move to another tub, or back to quarantine."""
    body = {
        "tub_id": forms.text("tub_id"),
        "to": forms.text("to"),
        "share_water": forms.ticked("share_water"),
        "reason": forms.text("reason"),
    }
    return _acted(lot_id, f"/lots/{lot_id}/moves", forms.without_empty(body) | forms.when())


@blueprint.post("/lots/<id:lot_id>/opening")
def open_cups(lot_id: str) -> Page:
    """Open sealed cups."""
    body = {"reason": forms.text("reason")}
    return _acted(lot_id, f"/lots/{lot_id}/opening", forms.without_empty(body) | forms.when())


@blueprint.post("/lots/<id:lot_id>/loss")
def loss(lot_id: str) -> Page:
    """Write off plants."""
    body = {"quantity": forms.whole("quantity"), "cause": forms.text("cause"), "note": forms.text("note")}
    return _acted(lot_id, f"/lots/{lot_id}/losses", forms.without_empty(body) | forms.when())


@blueprint.post("/lots/<id:lot_id>/hold")
def hold(lot_id: str) -> Page:
    """Put it on hold."""
    body = {"cause": forms.text("cause"), "reason": forms.text("reason")}
    return _acted(lot_id, f"/lots/{lot_id}/holds", forms.without_empty(body))


@blueprint.post("/lots/<id:lot_id>/holds/<id:hold_id>/lift")
def lift(lot_id: str, hold_id: str) -> Page:
    """Lift a hold."""
    etag = forms.text("etag")
    answer = asking.act(
        f"/lots/{lot_id}/holds/{hold_id}",
        None,
        method="DELETE",
        etag=etag,
        query={"reason": forms.text("reason")},
    )
    return _shown(lot_id, answer)


@blueprint.post("/lots/<id:lot_id>/split")
def split(lot_id: str) -> Page:
    """Split a part off; leads to the new lot."""
    body = {
        "quantity": forms.whole("quantity"),
        "tub_id": forms.text("tub_id"),
        "share_water": forms.ticked("share_water"),
        "reason": forms.text("reason"),
    }
    answer = asking.act(f"/lots/{lot_id}/splits", forms.without_empty(body) | forms.when())
    return _shown(answer.body["id"] if answer.ok else lot_id, answer)


@blueprint.post("/lots/<id:lot_id>/reject")
def reject(lot_id: str) -> Page:
    """Bin it or send it back."""
    body = {"quantity": forms.whole("quantity"), "way": forms.text("way"), "reason": forms.text("reason")}
    return _acted(lot_id, f"/lots/{lot_id}/rejection", forms.without_empty(body) | forms.when())


@blueprint.get("/lots/<id:lot_id>/trace")
def trace(lot_id: str) -> str:
    """Where it could have got it from, and where it could have carried it."""
    return render_template(
        "console/trace.html",
        lot=asking.read(f"/lots/{lot_id}"),
        ways=[
            (direction, asking.read(f"/lots/{lot_id}/trace", direction=direction))
            for direction in ("back", "forward")
        ],
    )


def _acted(lot_id: str, path: str, body: Mapping[str, Any], *, etag: str | None = None) -> Page:
    return _shown(lot_id, asking.act(path, body, etag=etag))


def _shown(lot_id: str, answer: Any) -> Page:
    if not answer.ok:
        return lot(lot_id, answer.body), answer.status
    return redirect(url_for("console.lot", lot_id=lot_id, done="yes"), 303)


def _history(lot_id: str) -> list[Any]:
    return list(reversed(list(asking.everything(f"/lots/{lot_id}/history"))))


def _policies() -> list[str]:
    return list(dict.fromkeys(one["code"] for one in asking.read("/policies")["items"]))

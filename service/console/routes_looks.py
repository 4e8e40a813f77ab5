"""A look: how many to look at, what was found, and by whom."""

from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms, words
from service.console.door import blueprint, person
from service.console.queries_lot import lots_to_choose
from service.core.inside import reading

DETECTION, CONFIDENCE = 0.05, 0.95  # what is proposed; the policy of clearance decides what counts
SENSITIVITY = 0.8
FINDINGS = 3
EYES, SEALED = "eyes", "sealed_cup"
LIVING = ("received", "in_treatment", "in_quarantine", "cleared")


@blueprint.get("/look")
def look(problem: Any = None) -> str:
    """Show the form of a look at a lot or at a tub."""
    given = request.form if request.method == "POST" else request.args
    lot = asking.read(f"/lots/{given['lot']}") if given.get("lot") else None
    tub = asking.read(f"/tubs/{given['tub']}") if given.get("tub") else None
    plan = None
    if lot and lot["quantity"]["left"]:
        plan = asking.read(
            "/sampling-plan",
            lot_size=lot["quantity"]["left"],
            detection_level=DETECTION,
            confidence=CONFIDENCE,
            sensitivity=SENSITIVITY,
        )
    cups = lot is not None and lot["unit_of_sale"] == "cup"
    there = asking.read("/lots", tub=tub["id"])["items"] if tub else []
    shown = FINDINGS if request.method == "GET" else len(forms.rows("find")) or FINDINGS
    return render_template(
        "console/look.html",
        lot=lot,
        tub=tub,
        plan=plan,
        there=there,
        shown=shown,
        cups=cups,
        ways=[way for way in words.METHODS.items() if cups or way[0] != SEALED],
        way=given.get("method") or ("eyes" if lot else "strain"),
        shares=_shares(lot),
        problem=problem,
        inspector=person().name,
        lots=[] if lot or tub else _living(),
        code=request.args.get("code", ""),
    )


@blueprint.post("/look")
def write_look() -> Response | tuple[str, int]:
    """Write the look down."""
    lot_id, tub_id = forms.text("lot"), forms.text("tub")
    sealed = forms.text("method") == SEALED
    parts = _parts() if forms.text("method") == EYES else []
    body = {
        "lot_id": lot_id,
        "tub_id": None if lot_id else tub_id,
        "method": forms.text("method"),
        "seal": dict.fromkeys(("lid_whole", "gel_clean"), forms.ticked("sealed")) if sealed else None,
        "sample_size": None if parts else forms.whole("sample_size"),
        "strata": parts or None,
        "sample_unit": forms.text("sample_unit"),
        "inspector": forms.text("inspector"),
        "note": forms.text("note"),
        "findings": _findings(),
        **forms.when(),
    }
    answer = asking.act("/inspections", forms.without_empty(body))
    if not answer.ok:
        return look(answer.body), answer.status
    if lot_id:
        return redirect(url_for("console.lot", lot_id=lot_id, done="yes"), 303)
    return redirect(url_for("console.todays_round", done=1), 303)


@blueprint.post("/looks/<id:look_id>/void")
def void_look(look_id: str) -> Response | tuple[str, int]:
    """A look that was written down wrongly is void; the new one is written beside it."""
    answer = asking.act(f"/inspections/{look_id}/void", {"reason": forms.text("reason") or ""})
    back = request.form.get("lot", "")
    if not answer.ok:
        return look(answer.body), answer.status
    return redirect(url_for("console.lot", lot_id=back, done="yes"), 303)


def _shares(lot: Any) -> list[dict[str, Any]]:
    """How many of each part of a lot are to be looked at."""
    if not lot or not lot["strata"]:
        return []
    planned = asking.read(f"/lots/{lot['id']}/clearance")["look_plan"]["strata"]
    asked = {part["name"]: part["look_at"] for part in planned}
    return [{"name": part["name"], "look_at": asked.get(part["name"], "")} for part in lot["strata"]]


def _findings() -> list[dict[str, Any]]:
    found = []
    for row in forms.rows("find"):
        name = f"find-{row}"
        live, dead = forms.whole(f"{name}-live") or 0, forms.whole(f"{name}-dead") or 0
        if live or dead:
            found.append(
                {
                    "pest": forms.text(f"{name}-pest"),
                    "stage": forms.text(f"{name}-stage"),
                    "live": live,
                    "dead": dead,
                    "removed": forms.ticked(f"{name}-removed"),
                }
            )
    return found


def _parts() -> list[dict[str, Any]]:
    """How many were looked at of each part of the lot."""
    return [
        {"name": forms.text(f"part-{row}-name"), "looked_at": forms.whole(f"part-{row}-looked_at")}
        for row in forms.rows("part")
        if forms.text(f"part-{row}-looked_at")
    ]


def _living() -> list[Any]:
    with reading() as reader:
        return lots_to_choose(reader, LIVING, request.args.get("code", ""))

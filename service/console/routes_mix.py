"""Bottle to bucket: which treatment fits, its mixing sheet for this water, and carrying it out by steps."""

from collections.abc import Mapping
from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import bench, blueprint
from service.console.queries_lot import lots_by_ids, lots_to_choose
from service.console.queries_round import tubs_taken
from service.console.rules_mix import Verdict, free_tub, verdict
from service.core.inside import Answer, reading

Page = Response | tuple[str, int]
TREATABLE = ("received", "in_quarantine")
LITRES = {"us": "[gal_us]", "si": "L"}


@blueprint.get("/mix")
def mix() -> str:
    """Choose what is treated, where, in how much water; each written treatment says whether it fits."""
    tubs = [one for one in asking.everything("/tubs") if one["active"]]
    code = request.args.get("code", "")
    with reading() as reader:
        treatable = lots_to_choose(reader, TREATABLE, code)
    chosen = asking.read(f"/lots/{request.args['lot']}") if request.args.get("lot") else None
    if chosen and all(lot["id"] != chosen["id"] for lot in treatable):
        treatable.insert(0, chosen)
    tub = _tub(tubs, chosen)
    volume = _volume(tub)
    found = [_fit(one, chosen, tub, volume) for one in asking.everything("/protocols")] if chosen else []
    plant = asking.read(f"/plants/{chosen['plant']['id']}") if chosen else None
    return render_template(
        "console/mix.html",
        lots=treatable,
        code=code,
        chosen=chosen,
        tubs=tubs,
        tub=tub,
        volume=volume,
        protocols=sorted(found, key=lambda one: one["verdict"].rank),
        plant=plant,
        unit=LITRES[bench().units],
    )


@blueprint.get("/mix/sheet")
def sheet() -> str:
    """The mixing sheet, on the screen and as one printed page; nothing is stored."""
    return _sheet(None)


@blueprint.post("/mix/plan")
def plan() -> Page:
    """Put the lot into the tub and begin the treatment; nothing is drawn before its first step."""
    body = {
        "protocol": forms.text("protocol"),
        "version": forms.whole("version"),
        "tub_id": forms.text("tub"),
        "lot_ids": [forms.text("lot")],
        "water_volume": forms.amount("litres"),
        "share_water": forms.ticked("share_water"),
        "trial_stems_reason": forms.text("trial_stems_reason"),
        "survived_here": forms.whole("survived_here"),
        "override_reason": forms.text("override_reason"),
    }
    answer = asking.act("/treatments", forms.without_empty(body) | forms.when())
    if not answer.ok:
        return _sheet(answer.body), answer.status
    return redirect(url_for("console.treatment", treatment_id=answer.body["id"]), 303)


@blueprint.get("/treatments/<id:treatment_id>")
def treatment(treatment_id: str, problem: Any = None) -> str:
    """Carry a treatment out: what to measure, what was poured, and when each step must end."""
    found = asking.read(f"/treatments/{treatment_id}")
    written = asking.read(f"/protocols/{found['protocol']}/versions/{found['version']}")
    asked = {name: found[name] for name in ("protocol", "version", "water_volume")}
    mixed = asking.rehearse("/mixing-sheets", asked) if found["state"] in ("planned", "running") else None
    tubs = {one["id"]: one["code"] for one in asking.everything("/tubs")}
    with reading() as reader:
        lots = lots_by_ids(reader, found["lot_ids"])
    following = next((step["n"] for step in found["steps"] if step["state"] != "done"), None)
    return render_template(
        "console/treatment.html",
        treatment=found,
        written=written,
        mixed=mixed.body if mixed and mixed.ok else None,
        mixed_problem=mixed.body if mixed and not mixed.ok else None,
        lots=[lots[lot_id] for lot_id in found["lot_ids"]],
        tubs=tubs,
        batches={one["id"]: one for one in asking.everything("/stock-batches", usable="true")},
        following=following,
        problem=problem,
    )


@blueprint.post("/treatments/<id:treatment_id>/steps/<int:n>/start")
def start_step(treatment_id: str, n: int) -> Page:
    """Begin a step with what was really poured."""
    answer = asking.act(f"/treatments/{treatment_id}/steps/{n}/start", {"poured": _poured(), **forms.when()})
    return _treated(treatment_id, answer)


@blueprint.post("/treatments/<id:treatment_id>/steps/<int:n>/finish")
def finish_step(treatment_id: str, n: int) -> Page:
    """End a step."""
    body = {"departure": forms.text("departure"), **forms.when()}
    return _treated(treatment_id, asking.act(f"/treatments/{treatment_id}/steps/{n}/finish", body))


@blueprint.post("/treatments/<id:treatment_id>/finish")
def finish_treatment(treatment_id: str) -> Page:
    """All steps are done: the plants go into quarantine."""
    body = {
        "to_tub_id": forms.text("to_tub_id"),
        "share_water": forms.ticked("share_water"),
        **forms.when(),
    }
    return _treated(treatment_id, asking.act(f"/treatments/{treatment_id}/finish", body))


@blueprint.post("/treatments/<id:treatment_id>/abandon")
def abandon(treatment_id: str) -> Page:
    """Stop it early."""
    body = {"reason": forms.text("reason"), **forms.when()}
    return _treated(
        treatment_id, asking.act(f"/treatments/{treatment_id}/abandon", forms.without_empty(body))
    )


def _sheet(problem: Any) -> str:
    given = request.form if request.method == "POST" else request.args
    protocol, version = given.get("protocol", ""), given.get("version", "1")
    written = asking.read(f"/protocols/{protocol}/versions/{version}")
    litres, unit = (
        given.get("litres", "10").replace(",", "."),
        given.get("litres_unit", LITRES[bench().units]),
    )
    body = {
        "protocol": protocol,
        "version": written["version"],
        "water_volume": {"value": _number(litres), "unit": unit},
    }
    mixed = asking.rehearse("/mixing-sheets", body)
    lot = asking.read(f"/lots/{given['lot']}") if given.get("lot") else None
    tub = asking.read(f"/tubs/{given['tub']}") if given.get("tub") else None
    found = None
    if lot and tub and problem is None:
        found = _fit({"code": protocol, "latest_version": version}, lot, tub, body["water_volume"])
    return render_template(
        "console/sheet.html",
        written=written,
        mixed=mixed.body if mixed.ok else None,
        problem=problem or (None if mixed.ok else mixed.body),
        fit=found,
        lot=lot,
        tub=tub,
        volume=body["water_volume"],
        batches={one["id"]: one for one in asking.everything("/stock-batches")},
    )


def _fit(
    protocol: Mapping[str, Any], lot: Mapping[str, Any], tub: Mapping[str, Any] | None, volume: Any
) -> dict[str, Any]:
    """Whether a written treatment fits a lot here and now: the act itself says so, rehearsed."""
    version = int(protocol["latest_version"])
    written = asking.read(f"/protocols/{protocol['code']}/versions/{version}")
    if tub is None:
        return {"written": written, "verdict": Verdict.BLOCKED, "reasons": []}
    body = {
        "protocol": protocol["code"],
        "version": version,
        "tub_id": tub["id"],
        "lot_ids": [lot["id"]],
        "water_volume": volume,
    }
    answer = asking.rehearse("/treatments", body)
    reasons = [] if answer.ok else answer.body.get("reasons") or answer.body.get("errors") or []
    return {"written": written, "verdict": verdict(reasons), "reasons": reasons}


def _tub(tubs: list[Any], chosen: Any) -> Any:
    asked = request.args.get("tub") or (chosen["tub_id"] if chosen else None)
    named = next((one for one in tubs if one["id"] == asked), None)
    if named is not None:
        return named
    with reading() as reader:
        return free_tub(tubs, tubs_taken(reader))


def _volume(tub: Any) -> dict[str, Any] | None:
    litres = request.args.get("litres", "").replace(",", ".")
    if litres:
        return {"value": _number(litres), "unit": request.args.get("litres_unit", LITRES[bench().units])}
    return tub["volume"] if tub else None


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _poured() -> list[dict[str, Any]]:
    """The amounts as poured, when any of them is another than the sheet says."""
    lines, changed = [], False
    for row in forms.rows("pour"):
        value, planned = forms.number(f"pour-{row}-value"), forms.number(f"pour-{row}-planned")
        changed = changed or value != planned
        unit = forms.text(f"pour-{row}-unit")
        lines.append({"batch_id": forms.text(f"pour-{row}-batch"), "amount": {"value": value, "unit": unit}})
    return lines if changed else []


def _treated(treatment_id: str, answer: Answer) -> Page:
    if not answer.ok:
        return treatment(treatment_id, answer.body), answer.status
    return redirect(url_for("console.treatment", treatment_id=treatment_id), 303)

"""Trials: what is compared, laying one out, today's look tub by tub, and what it says so far."""

from collections.abc import Mapping
from typing import Any

from flask import g, redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint, person
from service.console.queries_lot import lots_to_choose
from service.console.queries_round import tubs_taken
from service.console.rules_trials import hatching, living, open_looks
from service.core.inside import ask, reading

Page = Response | tuple[str, int]
SOURCES = ("received", "in_quarantine")
TARGETS = 3
EGGS = ("clear", "cloudy", "white", "hatched", "laid")
ANIMALS = ("live", "dead")
SCORES = ("leaves", "roots", "melt", "new_growth")


@blueprint.get("/trials")
def trials() -> str:
    """Every trial, the newest first."""
    found = asking.read("/trials", **asking.page_query())
    return render_template("console/trials.html", found=found)


@blueprint.get("/trials/plan")
def plan_trial(problem: Any = None) -> str:
    """Show the form of a new trial."""
    code = request.args.get("code", "")
    with reading() as reader:
        taken = tubs_taken(reader)
        lots = lots_to_choose(reader, SOURCES, code)
    tubs = [one for one in asking.everything("/tubs") if one["active"] and one["id"] not in taken]
    return render_template(
        "console/trial_plan.html",
        lots=lots,
        code=code,
        tubs=tubs,
        protocols=list(asking.everything("/protocols")),
        targets=TARGETS,
        ticked=frozenset(value for name in ("lot", "tub", "arm") for value in request.form.getlist(name)),
        problem=problem,
    )


@blueprint.post("/trials/plan")
def lay_out() -> Page:
    """Lay it out: its units are split off and held from sale."""
    body = {
        "name": forms.text("name"),
        "question": forms.text("question"),
        "arms": _arms(),
        "lot_ids": request.form.getlist("lot"),
        "tub_ids": request.form.getlist("tub"),
        "targets": _targets(),
        "units_per_arm": forms.whole("units_per_arm"),
        "power": _power(),
        "seed": forms.whole("seed"),
        "blind": forms.ticked("blind"),
        "days": forms.whole("days"),
    }
    answer = asking.act("/trials", forms.without_empty(body) | forms.when())
    if not answer.ok:
        return plan_trial(answer.body), answer.status
    return redirect(url_for("console.trial", trial_id=answer.body["id"], done="yes"), 303)


@blueprint.get("/trials/<id:trial_id>")
def trial(trial_id: str, problem: Any = None) -> str:
    """One trial: its looks, and its result for whoever may know it."""
    found = asking.read_answer(f"/trials/{trial_id}")
    answer = ask(person(), "GET", f"/trials/{trial_id}/result")
    result = answer.body if answer.ok else None
    return render_template(
        "console/trial.html",
        trial=found.body,
        etag=found.etag,
        looks=open_looks(found.body["schedule"]),
        observations=asking.read(f"/trials/{trial_id}/observations", limit=asking.MOST)["items"],
        result=result,
        hidden_why=None if answer.ok else answer.body["detail"],
        hatching=hatching(result) if result else None,
        living=living(result) if result else None,
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.get("/trials/<id:trial_id>/look")
def trial_look(trial_id: str, problem: Any = None) -> str:
    """Today's look: the score card of one tub, unit by unit."""
    found = asking.read_answer(f"/trials/{trial_id}")
    given = request.form if request.method == "POST" else request.args
    looks = open_looks(found.body["schedule"])
    day = given.get("day", "") or (str(looks[0]["day"]) if looks else "0")
    labels = [tub["label"] for tub in found.body["tubs"]]
    tub = given.get("tub", "") if given.get("tub", "") in labels else labels[0]
    seen = asking.read(f"/trials/{trial_id}/observations", day=day, limit=asking.MOST)["items"]
    return render_template(
        "console/trial_look.html",
        trial=found.body,
        day=day,
        tub=tub,
        labels=labels,
        units=[unit for unit in found.body["units"] if unit["tub"] == tub],
        seen={row["label"] for one in seen if not one["voided_at"] for row in one["conditions"]},
        eggs=EGGS,
        animals=ANIMALS,
        scores=SCORES,
        observer=person().name,
        problem=problem,
    )


@blueprint.post("/trials/<id:trial_id>/look")
def observe(trial_id: str) -> Page:
    """Write the look at one tub down."""
    body = {
        "day": forms.whole("day"),
        "counts": _counts(),
        "conditions": _conditions(),
        "observer": forms.text("observer"),
        "note": forms.text("note"),
    }
    answer = asking.act(f"/trials/{trial_id}/observations", forms.without_empty(body) | forms.when())
    if not answer.ok:
        return trial_look(trial_id, answer.body), answer.status
    return redirect(url_for("console.trial", trial_id=trial_id, done="yes"), 303)


@blueprint.post("/trials/<id:trial_id>/observations/<id:observation_id>/void")
def void_observation(trial_id: str, observation_id: str) -> Page:
    """A look that was written down wrongly is void."""
    path = f"/trials/{trial_id}/observations/{observation_id}/void"
    return _acted(trial_id, path, {"reason": forms.text("reason") or ""})


@blueprint.post("/trials/<id:trial_id>/adopt")
def adopt(trial_id: str) -> Page:
    """Learn from an arm: its credits become a new version of its protocol."""
    body = {"arm": forms.text("arm") or "", "reason": forms.text("reason") or ""}
    return _acted(trial_id, f"/trials/{trial_id}/adoption", body)


@blueprint.post("/trials/<id:trial_id>/close")
def close_trial(trial_id: str) -> Page:
    """Close it; its lots go on by the regular gates."""
    return _acted(trial_id, f"/trials/{trial_id}/close", {"conclusion": forms.text("conclusion") or ""})


@blueprint.get("/trials/<id:trial_id>/result.csv")
def trial_result_csv(trial_id: str) -> Response:
    """The kills and plants of a trial as CSV."""
    return asking.csv(f"/trials/{trial_id}/result", f"trial-{g.now:%Y-%m-%d}.csv")


def _acted(trial_id: str, path: str, body: Mapping[str, Any]) -> Page:
    answer = asking.act(path, body)
    if not answer.ok:
        return trial(trial_id, answer.body), answer.status
    return redirect(url_for("console.trial", trial_id=trial_id, done="yes"), 303)


def _arms() -> list[dict[str, Any]]:
    treated = [value.rpartition("/") for value in request.form.getlist("arm")]
    arms: list[dict[str, Any]] = [
        {"code": protocol, "protocol": protocol, "version": int(version) if version.isdigit() else version}
        for protocol, _, version in treated
    ]
    return [*arms, {"code": "control"}] if forms.ticked("control") else arms


def _targets() -> list[dict[str, Any]]:
    return [
        {"pest": forms.text(f"target-{row}-pest"), "stage": forms.text(f"target-{row}-stage")}
        for row in forms.rows("target")
        if forms.text(f"target-{row}-pest")
    ]


def _power() -> dict[str, Any] | None:
    told = {name: forms.number(name) for name in ("treated", "untreated")}
    if None in told.values():
        return None
    shares = {n: v / 100 if isinstance(v, float) else v for n, v in told.items()}
    return {"treated": shares["treated"], "control": shares["untreated"]}


def _counts() -> list[dict[str, Any]]:
    found = []
    for row in forms.rows("count"):
        numbers = {name: forms.whole(f"count-{row}-{name}") for name in (*ANIMALS, *EGGS)}
        named = {name: forms.text(f"count-{row}-{name}") for name in ("label", "pest", "stage")}
        if any(value is not None for value in numbers.values()):
            found.append(forms.without_empty({**named, **numbers}))
    return found


def _conditions() -> list[dict[str, Any]]:
    found = []
    for row in forms.rows("unit"):
        scores = {name: forms.whole(f"unit-{row}-{name}") for name in SCORES}
        fate = forms.text(f"unit-{row}-fate") or "alive"
        if fate == "dead":
            scores = {}
        if fate != "alive" or any(value is not None for value in scores.values()):
            told = {"label": forms.text(f"unit-{row}-label"), "grown": forms.text(f"unit-{row}-grown")}
            found.append(forms.without_empty({**told, "fate": fate, **scores}))
    return found

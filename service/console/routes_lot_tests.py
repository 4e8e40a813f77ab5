"""What is tried on a few before the rest: stems of a lot with a treatment, animals with its soak water."""

from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint
from service.console.words import ANIMALS

Page = Response | tuple[str, int]


@blueprint.get("/lots/<id:lot_id>/tests")
def lot_tests(lot_id: str, problem: Any = None) -> str:
    """Show what was tried on a lot, what is to be judged next, and the forms for both."""
    return render_template(
        "console/lot_tests.html",
        lot=asking.read(f"/lots/{lot_id}"),
        trials=asking.read(f"/lots/{lot_id}/trial-stems")["items"],
        tests=asking.read(f"/lots/{lot_id}/animal-tests")["items"],
        protocols=[(f"{one['code']}/{one['latest_version']}", one["name"]) for one in _protocols()],
        animals=ANIMALS,
        protocol=request.args.get("protocol", ""),
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.post("/lots/<id:lot_id>/tests/stems")
def try_stems(lot_id: str) -> Page:
    """A treatment was tried on a few stems."""
    protocol, _, version = (forms.text("protocol") or "").partition("/")
    body = {
        "protocol": protocol or None,
        "version": int(version) if version.isdigit() else None,
        "stems": forms.whole("stems"),
        "note": forms.text("note"),
        **forms.when(),
    }
    return _shown(lot_id, asking.act(f"/lots/{lot_id}/trial-stems", forms.without_empty(body)))


@blueprint.post("/lots/<id:lot_id>/tests/stems/<id:trial_id>")
def judge_stems(lot_id: str, trial_id: str) -> Page:
    """So many of the stems live."""
    body = {"alive": forms.whole("alive"), "note": forms.text("judged_note"), **forms.when()}
    return _shown(lot_id, asking.act(f"/trial-stems/{trial_id}/judgements", forms.without_empty(body)))


@blueprint.post("/lots/<id:lot_id>/tests/animals")
def enter_animal_test(lot_id: str) -> Page:
    """So many animals lived in the water that plants had soaked in."""
    body = {
        "animal": forms.text("animal"),
        "animals": forms.whole("animals"),
        "alive": forms.whole("animals_alive"),
        "started_at": forms.moment("started_at"),
        "note": forms.text("animals_note"),
        **forms.when(),
    }
    return _shown(lot_id, asking.act(f"/lots/{lot_id}/animal-tests", forms.without_empty(body)))


def _protocols() -> list[Any]:
    return [one for one in asking.everything("/protocols") if one["latest_version"]]


def _shown(lot_id: str, answer: Any) -> Page:
    if not answer.ok:
        return lot_tests(lot_id, answer.body), answer.status
    return redirect(url_for("console.lot_tests", lot_id=lot_id, done="yes"), 303)

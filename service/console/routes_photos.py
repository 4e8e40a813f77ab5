"""Photos of a look, an observation or a shipment: sent from a form, shown beside it, void when wrong."""

from typing import Any

from flask import abort, redirect, request, url_for
from flask_babel import gettext
from werkzeug import Response

from service.console import asking
from service.console.door import blueprint, person
from service.console.routes_lots import lot
from service.console.routes_receive import shipment
from service.console.routes_trials import trial
from service.core.inside import Answer, ask
from service.photos.rules import SHA256

AT_ONCE = 6
PASSED_ON = ("Content-Security-Policy", "Cross-Origin-Resource-Policy", "Content-Disposition")
Page = Response | tuple[str, int]


@blueprint.get("/photos/<sha256>")
def photo(sha256: str) -> Response:
    """A photo as the interface gives it, with its headers."""
    answer = ask(person(), "GET", f"/photos/{sha256}", query={"size": request.args.get("size")})
    if not answer.ok:
        abort(answer.status)
    headers = {name: answer.headers[name] for name in PASSED_ON}
    return Response(answer.body, content_type=answer.headers["Content-Type"], headers=headers)


@blueprint.post("/lots/<id:lot_id>/looks/<id:look_id>/photos")
def photograph_look(lot_id: str, look_id: str) -> Page:
    """Add photos to a look."""
    problem = _added(f"/inspections/{look_id}/photos", {})
    if problem is not None:
        return lot(lot_id, problem.body), problem.status
    return redirect(url_for("console.lot", lot_id=lot_id, done="yes", _anchor=f"look-{look_id}"), 303)


@blueprint.post("/trials/<id:trial_id>/observations/<id:observation_id>/photos")
def photograph_observation(trial_id: str, observation_id: str) -> Page:
    """Add photos to an observation, of one unit or tub or of the whole."""
    path = f"/trials/{trial_id}/observations/{observation_id}/photos"
    problem = _added(path, {"label": request.form.get("label") or None})
    if problem is not None:
        return trial(trial_id, problem.body), problem.status
    return redirect(url_for("console.trial", trial_id=trial_id, done="yes"), 303)


@blueprint.post("/shipments/<id:shipment_id>/photos")
def photograph_shipment(shipment_id: str) -> Page:
    """Add photos of a delivery, or its papers."""
    problem = _added(f"/shipments/{shipment_id}/photos", {"kind": request.form.get("label") or None})
    if problem is not None:
        return shipment(shipment_id, problem.body), problem.status
    return redirect(url_for("console.shipment", shipment_id=shipment_id, done="yes", _anchor="photos"), 303)


@blueprint.post("/lots/<id:lot_id>/looks/<id:look_id>/photos/void")
def void_photo_of_look(lot_id: str, look_id: str) -> Page:
    """A photo of a look was wrong."""
    answer = _voided(f"/inspections/{look_id}")
    if not answer.ok:
        return lot(lot_id, answer.body), answer.status
    return redirect(url_for("console.lot", lot_id=lot_id, done="yes", _anchor=f"look-{look_id}"), 303)


@blueprint.post("/trials/<id:trial_id>/observations/<id:observation_id>/photos/void")
def void_photo_of_observation(trial_id: str, observation_id: str) -> Page:
    """A photo of an observation was wrong."""
    answer = _voided(f"/trials/{trial_id}/observations/{observation_id}")
    if not answer.ok:
        return trial(trial_id, answer.body), answer.status
    return redirect(url_for("console.trial", trial_id=trial_id, done="yes"), 303)


@blueprint.post("/shipments/<id:shipment_id>/photos/void")
def void_photo_of_shipment(shipment_id: str) -> Page:
    """A photo or paper of a shipment was wrong."""
    answer = _voided(f"/shipments/{shipment_id}")
    if not answer.ok:
        return shipment(shipment_id, answer.body), answer.status
    return redirect(url_for("console.shipment", shipment_id=shipment_id, done="yes", _anchor="photos"), 303)


def _voided(path: str) -> Answer:
    sha256, _, label = request.form.get("photo", "").partition("/")
    if SHA256.fullmatch(sha256) is None:
        abort(400)
    body = {"reason": request.form.get("reason", ""), **({"label": label} if label else {})}
    return asking.act(f"{path}/photos/{sha256}/void", body)


def _added(path: str, told: dict[str, Any]) -> Answer | None:
    """Send every photo, then name them all; gives what went wrong, and then none is named."""
    sent = [file for file in request.files.getlist("photo") if file.filename]
    if not sent or len(sent) > AT_ONCE:
        detail = gettext("Choose one to %(most)d pictures.", most=AT_ONCE)
        return Answer(422, {"detail": detail, "errors": [], "type": "/problems/validation"})
    named = []
    for n, file in enumerate(sent):
        # Of which sort it is, its content says; what a browser takes it for may be nothing or wrong.
        answer = asking.send_file("/photos", file.stream.read(), "image/jpeg", part=f"photo-{n}")
        if not answer.ok:
            return answer
        named.append({"sha256": answer.body["sha256"], **told})
    answer = asking.act(path, {"photos": named})
    return None if answer.ok else answer

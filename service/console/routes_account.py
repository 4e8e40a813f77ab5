"""One's own account: how the pages look, the password, and the code of an authenticator."""

from typing import Any

import segno
from flask import g, redirect, render_template, request, url_for
from flask_babel import gettext
from werkzeug import Response

from service.accounts import people, people_queries, secrets_of_people
from service.console import asking
from service.console.door import blueprint, forget, inside_address, person, secure
from service.core.errors import Invalid
from service.core.http import database, settings
from service.core.inside import ask, reading
from service.journal.acts import Act

A_YEAR_S = 365 * 24 * 3600


@blueprint.get("/account")
def account(problem: str | None = None, address: str | None = None) -> str:
    """Show one's own account; `address` of the calendar is shown once, when it was made."""
    with reading() as reader:
        found = people_queries.person_view(people_queries.person_by_id(reader, person().id))
    return _shown(found, problem=problem, address=address)


@blueprint.post("/account/calendar")
def make_calendar_address() -> str | tuple[str, int]:
    """A private address for one's calendar; the one before ends."""
    answer = asking.act("/calendar-address", {})
    if not answer.ok:
        return account(answer.body["detail"]), answer.status
    return account(address=answer.body.get("secret"))  # sent twice: it was shown the first time


@blueprint.post("/account/calendar/end")
def end_calendar_address() -> Response | tuple[str, int]:
    """End it at once."""
    answer = asking.act("/calendar-address", None, method="DELETE")
    if not answer.ok:
        return account(answer.body["detail"]), answer.status
    return redirect(url_for("console.account"), 303)


@blueprint.post("/account/theme")
def choose_theme() -> Response:
    """Light, dark, or as the device says."""
    wanted = request.form.get("theme", "")
    back = inside_address(request.form.get("back")) or url_for("console.account")
    response = redirect(back, 303)
    response.set_cookie(
        "theme", wanted, max_age=A_YEAR_S, secure=secure(), httponly=True, samesite="Lax", path="/console"
    )
    return response


@blueprint.post("/account/password")
def change_password() -> Response | tuple[str, int]:
    """A new password; signs out everywhere."""
    new = request.form.get("new", "")
    with reading() as reader:
        found = people_queries.person_by_id(reader, person().id)
    if not secrets_of_people.fits(found.password_hash, request.form.get("old", "")):
        return account(gettext("The old password is not right.")), 422
    try:
        people.acceptable(new, found.name)
    except Invalid as refused:
        return account(refused.detail), 422
    return _changed({"password_hash": secrets_of_people.hashed(new)})


@blueprint.post("/account/code")
def set_up_code() -> str:
    """Offer a fresh seed for an authenticator; it counts once a code of it was typed."""
    seed = secrets_of_people.new_seed()
    return _offer(seed, None)


@blueprint.post("/account/code/confirm")
def confirm_code() -> Response | tuple[str, int]:
    """Ask for codes from now on."""
    with reading() as reader:
        found = people_queries.person_by_id(reader, person().id)
    seed = request.form.get("seed", "")
    if not secrets_of_people.fits(found.password_hash, request.form.get("old", "")):
        return _offer(seed, gettext("The password is not right.")), 422
    if secrets_of_people.step_now(seed, request.form.get("code", ""), g.now) is None:
        return _offer(seed, gettext("This is not the code that is shown now.")), 422
    return _changed({"totp_sealed": secrets_of_people.seal(seed, settings().secret)})


def _offer(seed: str, problem: str | None) -> str:
    with reading() as reader:
        found = people_queries.person_view(people_queries.person_by_id(reader, person().id))
    if not secrets_of_people.is_seed(seed):
        seed = secrets_of_people.new_seed()
    code = segno.make(secrets_of_people.seed_address(seed, person().name))
    return _shown(found, problem=problem, seed=seed, picture=code.svg_data_uri(scale=5))


def _shown(found: Any, **told: Any) -> str:
    calendar = ask(person(), "GET", "/calendar-address")
    shown = {"problem": None, "seed": None, "picture": None, "address": None, **told}
    since = calendar.body["created_at"] if calendar.ok else None
    return render_template("console/account.html", account=found, calendar_since=since, **shown)


def _changed(changes: dict[str, str]) -> Response:
    with database().writing() as writer:
        found = people_queries.person_for_change(writer, person().id)
        people.change_person(writer, Act(person().id, g.now, g.now), found, changes)
    response = redirect(url_for("console.sign_in"), 303)
    forget(response)
    return response

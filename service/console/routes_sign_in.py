"""Signing in and out."""

from datetime import datetime

from flask import g, redirect, render_template, request, url_for
from flask_babel import gettext
from werkzeug import Response

from service.accounts import people, people_queries, secrets_of_people
from service.accounts.people_models import Person
from service.accounts.rules import READERS
from service.console.door import blueprint, cookie_name, forget, inside_address, let_in
from service.core.errors import Refused
from service.core.http import database, settings
from service.journal.acts import Act

Page = str | tuple[str, int] | tuple[str, int, dict[str, str]] | Response


@blueprint.get("/sign-in")
def sign_in() -> Page:
    """Show the door."""
    return render_template("console/sign_in.html", problem=None, back=request.args.get("back", ""))


@blueprint.post("/sign-in")
def sign_in_now() -> Page:
    """Let somebody in whose name, password and code fit; the reason of a refusal is never told apart."""
    name = request.form.get("name", "").strip()
    password = request.form.get("password", "")
    address = request.remote_addr or ""
    with database().reading() as reader:
        until = people_queries.locked_until(reader, name, address, g.now)
        found = people_queries.person_by_name(reader, name)
    if until is not None:
        return _locked(until)
    fits = secrets_of_people.fits(found.password_hash if found else None, password)
    step = _step_of(found) if found and fits else None
    if found is None or not fits or not _may_enter(found, step):
        with database().writing() as writer:
            people.note_failure(writer, name, address, g.now)
        return _refused(gettext("Name, password or code are not right."), 401)
    return _entered(found, step)


@blueprint.post("/sign-out")
def sign_out() -> Response:
    """End this session."""
    with database().writing() as writer:
        people.sign_out(writer, request.cookies.get(cookie_name(), ""), g.now)
    response = redirect(url_for("console.sign_in"), 303)
    forget(response)
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


def _entered(found: Person, step: int | None) -> Page:
    try:
        with database().writing() as writer:
            person = people_queries.person_for_change(writer, found.id)
            secret = people.sign_in(writer, Act(person.id, g.now, g.now), person, totp_step=step)
    except Refused as refused:
        return _refused(refused.detail, 401)
    back = inside_address(request.form.get("back"))
    response = redirect(back or url_for("console.start"), 303)
    let_in(response, secret)
    return response


def _step_of(found: Person) -> int | None:
    if found.totp_sealed is None:
        return None
    seed = secrets_of_people.unseal(found.totp_sealed, settings().secret)
    return secrets_of_people.step_now(seed, request.form.get("code", ""), g.now)


def _may_enter(found: Person, step: int | None) -> bool:
    return found.active and found.role in READERS and (found.totp_sealed is None or step is not None)


def _locked(until: datetime) -> Page:
    seconds = max(1, round((until - g.now).total_seconds()))
    told = gettext("Too many tries. Wait %(minutes)d minutes and try again.", minutes=-(-seconds // 60))
    shown = render_template("console/sign_in.html", problem=told, back=request.form.get("back", ""))
    return shown, 429, {"Retry-After": str(seconds)}


def _refused(told: str, status: int) -> Page:
    back = request.form.get("back", "")
    return render_template("console/sign_in.html", problem=told, back=back), status

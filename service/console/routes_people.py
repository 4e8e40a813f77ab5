"""For the owner: who signs in, which programs hold a token, and the settings of the house."""

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug import Response

from service.console import asking, forms
from service.console.door import blueprint
from service.core.http import etag

Page = Response | tuple[str, int]
Shown = str | tuple[str, int]
CLEARED_WHEN_EMPTY = ("country", "subdivision", "registration_number", "gs1_prefix", "gln")
SETTINGS = ("time_zone", "locale", "units", "issuer_name", "issuer_address", *CLEARED_WHEN_EMPTY)


@blueprint.get("/people")
def people(problem: Any = None, secret: Mapping[str, Any] | None = None) -> str:
    """Everybody who signs in and every token; a secret just made is shown this once."""
    return render_template(
        "console/people.html",
        people=[{**one, "etag": _etag(one)} for one in asking.everything("/users")],
        tokens=[{**one, "etag": _etag(one)} for one in asking.everything("/tokens")],
        problem=problem,
        secret=secret,
        done=request.args.get("done", ""),
    )


@blueprint.post("/people")
def add_person() -> Shown:
    """Add a person; the first password is made here."""
    body = {"name": forms.text("name"), "role": forms.text("role")}
    return _with_secret(asking.act("/users", forms.without_empty(body)))


@blueprint.post("/people/<id:person_id>/change")
def change_person(person_id: str) -> Page:
    """Another role, in or out; he is signed out wherever he is signed in."""
    body = {"role": forms.text("role"), "active": forms.ticked("active")}
    return _changed(f"/users/{person_id}", forms.without_empty(body))


@blueprint.post("/people/<id:person_id>/sign-out")
def sign_person_out(person_id: str) -> Page:
    """End every session of a person; nothing else changes."""
    return _changed(f"/users/{person_id}", {})


@blueprint.post("/people/<id:person_id>/password")
def new_password(person_id: str) -> Shown:
    """Make a person a new password."""
    etag_seen = forms.text("etag")
    body = {"new_password": True}
    return _with_secret(asking.act(f"/users/{person_id}", body, method="PATCH", etag=etag_seen))


@blueprint.post("/people/tokens")
def make_token() -> Shown:
    """Make a token for a program."""
    body = {"name": forms.text("name"), "role": forms.text("role"), "days": forms.whole("days")}
    return _with_secret(asking.act("/tokens", forms.without_empty(body)))


@blueprint.post("/people/tokens/<id:token_id>/revoke")
def revoke_token(token_id: str) -> Page:
    """Revoke a token at once."""
    return _changed(f"/tokens/{token_id}", None, method="DELETE")


@blueprint.get("/settings")
def settings(problem: Any = None) -> str:
    """The settings of the house."""
    found = asking.read_answer("/settings")
    return render_template(
        "console/settings.html",
        house=found.body,
        etag=found.etag,
        problem=problem,
        done=request.args.get("done", ""),
    )


@blueprint.post("/settings")
def change_settings() -> Page:
    """Change them; what is left empty and may be is cleared."""
    body = {name: forms.text(name) for name in SETTINGS}
    kept: dict[str, Any] = {
        name: value for name, value in body.items() if value is not None or name in CLEARED_WHEN_EMPTY
    }
    days = forms.whole("late_entry_limit_days")
    if days is not None:
        kept["late_entry_limit_days"] = days
    answer = asking.act("/settings", kept, method="PATCH", etag=forms.text("etag"))
    if not answer.ok:
        return settings(answer.body), answer.status
    return redirect(url_for("console.settings", done="yes"), 303)


def _etag(row: Mapping[str, Any]) -> str:
    return f'"{etag(SimpleNamespace(id=row["id"], version=row["version"]))}"'


def _with_secret(answer: Any) -> Shown:
    """A secret is shown in the answer itself: it is kept nowhere from which a second page could read it."""
    if not answer.ok:
        return people(answer.body), answer.status
    return people(secret=answer.body)


def _changed(path: str, body: Mapping[str, Any] | None, method: str = "PATCH") -> Page:
    answer = asking.act(path, body, method=method, etag=forms.text("etag"))
    if not answer.ok:
        return people(answer.body), answer.status
    return redirect(url_for("console.people", done="yes"), 303)

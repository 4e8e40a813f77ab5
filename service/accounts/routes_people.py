"""Addresses of the people who sign in."""

import secrets
from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts import people, people_queries
from service.accounts.people_models import Person
from service.accounts.rules import OWNERS, Role
from service.accounts.schemas import PersonChangeIn, PersonIn, PersonOut, PersonWithSecretOut
from service.accounts.secrets_of_people import hashed
from service.core.http import allow, answer, created, match, router, session
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from

blueprint = router("people", "People who sign in.")
FIRST_PASSWORD_BYTES = 15


@blueprint.route("/users")
@allow(OWNERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(PersonOut))
def list_people(asked: Mapping[str, Any]) -> Response:
    """List the people who sign in."""
    return listed(page(session(), people_queries.people(), [Person.id], asked), people_queries.person_shape)


@blueprint.route("/users", methods=["POST"])
@allow(OWNERS)
@blueprint.arguments(PersonIn)
@blueprint.response(201, PersonWithSecretOut)
def add_person(body: Mapping[str, Any]) -> Response:
    """Add a person; the first password is made here and shown this once."""
    g.answers_secret = True
    secret = secrets.token_urlsafe(FIRST_PASSWORD_BYTES)
    person = people.add_person(
        session(),
        act_from({}),
        name=body["name"],
        role=Role(body["role"]),
        password_hash=hashed(secret),
    )
    return created({**people_queries.person_view(person), "secret": secret}, f"/users/{person.id}", person)


@blueprint.route("/users/<id:person_id>", methods=["PATCH"])
@allow(OWNERS)
@blueprint.arguments(PersonChangeIn)
@blueprint.response(200, PersonWithSecretOut)
def change_person(body: Mapping[str, Any], person_id: str) -> Response:
    """Change a person's role, let him in or no longer, or make him a new password."""
    g.answers_secret = True
    changes = {name: value for name, value in body.items() if name != "new_password"}
    shown = {}
    if body["new_password"]:
        shown["secret"] = secrets.token_urlsafe(FIRST_PASSWORD_BYTES)
        changes["password_hash"] = hashed(shown["secret"])
    person = people_queries.person_for_change(session(), person_id)
    match(person, required=True)
    people.change_person(session(), act_from({}), person, changes)
    return answer({**people_queries.person_view(person), **shown}, thing=person)

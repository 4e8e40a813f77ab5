"""Addresses of accounts: tokens and the house's settings."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts import actions, queries
from service.accounts.models import Token
from service.accounts.rules import OWNERS, READERS
from service.accounts.schemas import HouseIn, HouseOut, NewTokenOut, TokenIn, TokenOut
from service.core.house import House, house
from service.core.http import allow, answer, created, match, router, session
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from

blueprint = router("accounts", "Tokens, roles and the house's settings.")


@blueprint.route("/tokens")
@allow(OWNERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(TokenOut))
def list_tokens(asked: Mapping[str, Any]) -> Response:
    """List tokens, never their secrets."""
    return listed(page(session(), queries.tokens(), [Token.id], asked), queries.token_shape)


@blueprint.route("/tokens", methods=["POST"])
@allow(OWNERS)
@blueprint.arguments(TokenIn)
@blueprint.response(201, NewTokenOut)
def create_token(body: Mapping[str, Any]) -> Response:
    """Make a token; its secret is shown this once."""
    g.answers_secret = True
    token, secret = actions.create_token(session(), act_from(body), **body)
    shown = queries.token_shape([getattr(token, name) for name in queries.NAMES])
    return created({**shown, "secret": secret}, f"/tokens/{token.id}", token)


@blueprint.route("/tokens/<id:token_id>", methods=["DELETE"])
@allow(OWNERS)
@blueprint.response(204)
def revoke_token(token_id: str) -> Response:
    """Revoke a token at once."""
    token = queries.token_for_change(session(), token_id)
    match(token, required=True)
    actions.revoke_token(session(), act_from({}), token)
    return Response(status=204)


@blueprint.route("/settings")
@allow(READERS)
@blueprint.response(200, HouseOut)
def show_settings() -> Response:
    """Show the house's settings."""
    found = house(session())
    return answer(queries.house_shape(found), thing=found)


@blueprint.route("/settings", methods=["PATCH"])
@allow(OWNERS)
@blueprint.arguments(HouseIn)
@blueprint.response(200, HouseOut)
def change_settings(body: Mapping[str, Any]) -> Response:
    """Change the house's settings."""
    found = session().get_one(House, 1, with_for_update=True)
    match(found, required=True)
    actions.change_house(session(), act_from({}), found, body)
    return answer(queries.house_shape(found), thing=found)

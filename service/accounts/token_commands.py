"""`dipledger token ...`: who may come in without a password."""

import click

from service.accounts.actions import create_token, revoke_token
from service.accounts.people_queries import person_by_name
from service.accounts.queries import token_for_change, token_shape, tokens
from service.accounts.rules import DEFAULT_DAYS, LONGEST_DAYS, Role
from service.core.clock import utc_now
from service.core.command_line import Opened, Refused, answer, as_json_option, table, told
from service.core.errors import NotFound
from service.core.ids import is_id
from service.journal.acts import Act

HELP = """Tokens: for programs (a shop, a logger) and for a person's own scripts.

A token goes in the header 'Authorization: Bearer ...'. Only its hash is kept: one that was lost is revoked
and made anew. People at the console need none; see 'user'.
"""


def token_commands(opened: Opened) -> click.Group:
    """The commands; `opened` is called when one of them runs."""
    group = click.Group("token", help=HELP)

    @group.command("create")
    @click.option("--name", required=True, help="Whose token it is.")
    @click.option("--role", required=True, type=click.Choice([role.value for role in Role]))
    @click.option("--days", default=DEFAULT_DAYS, type=click.IntRange(1, LONGEST_DAYS), show_default=True)
    @click.option("--person", help="The person it is for, as he signs in; left out for a program.")
    @as_json_option
    def create(name: str, role: str, days: int, person: str | None, as_json: bool) -> None:
        """Make a token and print its secret, this once.

        Use one for each program, with the least role that does: 'shop' reads the inventory, promises and
        dispatches, and can never clear a lot; 'auditor' only reads.

        \b
        Examples: dipledger token create --role shop --name "the web shop"
                  dipledger token create --role grower --name "Ana's tablet" --person Ana --days 365
        """
        now = utc_now()
        with opened() as database, database.writing() as session, told():
            found = None if person is None else person_by_name(session, person)
            if person is not None and found is None:
                raise Refused(f"There is nobody called {person}.", "not-found")
            act, whose = Act("command line", now, now), None if found is None else found.id
            made, secret = create_token(session, act, name=name, role=Role(role), days=days, person_id=whose)
            said = {
                "id": made.id,
                "name": name,
                "role": role,
                "expires_at": made.expires_at,
                "secret": secret,
            }
        answer(said, secret, as_json=as_json)

    @group.command("list")
    @as_json_option
    def list_(as_json: bool) -> None:
        """List every token: whose it is, what it may, and until when; never its secret.

        Use it when somebody leaves, and after a backup was put back.

        \b
        Example: dipledger token list
        """
        now = utc_now()
        with opened() as database, database.reading() as session:
            found = [token_shape(row) for row in session.execute(tokens()).all()]
        rows = {}
        for token in found:
            alive = token["revoked_at"] is None and token["expires_at"] > now
            until = f"until {token['expires_at']:%Y-%m-%d}" if alive else "off"
            rows[token["id"]] = f"{token['role']:<8}  {until:<16}  {token['name']}"
        answer({"items": found}, table(rows), as_json=as_json)

    @group.command("revoke")
    @click.argument("token_id", metavar="ID")
    @as_json_option
    def revoke(token_id: str, as_json: bool) -> None:
        """Let the token with this ID in no longer, from now on.

        Use it at once when a device was lost or a secret was seen by somebody; ids are in 'token list'.

        \b
        Example: dipledger token revoke 0195a1b2-0000-7000-8000-000000000001
        """
        now = utc_now()
        with opened() as database, database.writing() as session, told():
            if not is_id(token_id):
                raise NotFound("token")
            token = token_for_change(session, token_id)
            revoke_token(session, Act("command line", now, now), token)
            name, at = token.name, token.revoked_at
        answer({"id": token_id, "revoked_at": at}, f"{name} may no longer come in.", as_json=as_json)

    return group

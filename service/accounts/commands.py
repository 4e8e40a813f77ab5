"""`dipledger user ...`: the people who sign in."""

import sys
from collections.abc import Mapping

import click
import segno
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.accounts import people, secrets_of_people
from service.accounts.people_models import Person
from service.accounts.people_queries import person_by_name
from service.accounts.rules import Role
from service.core.clock import utc_now
from service.core.command_line import Found, Opened, Refused, answer, as_json_option, table, told
from service.journal.acts import Act

HELP = """People who sign in to the console at /console/, by name and password.

Programs get a token instead; see 'token'.
"""
HUMAN = [role.value for role in Role if role is not Role.SHOP]
from_stdin = click.option(
    "--password-stdin", is_flag=True, help="Read the password from the first line of standard input."
)


def user_commands(settings: Found, opened: Opened) -> click.Group:
    """The commands; `settings` and `opened` are called when one of them runs."""
    group = click.Group("user", help=HELP)
    _signing_in(group, settings, opened)
    _keeping(group, opened)
    return group


def _signing_in(group: click.Group, settings: Found, opened: Opened) -> None:
    @group.command("add")
    @click.option("--name", required=True, help="What the person signs in as.")
    @click.option("--role", required=True, type=click.Choice(HUMAN))
    @from_stdin
    @as_json_option
    def add(name: str, role: str, password_stdin: bool, as_json: bool) -> None:
        """Add a person; the password is asked for.

        Use it for the first owner after 'init'; he adds the others at the console. Roles: owner, manager
        (clears lots), grower (bench), seller, auditor (reads all).

        \b
        Example: dipledger user add --name Maren --role owner
        """
        password_hash = _asked(name, stdin=password_stdin)
        with opened() as database, database.writing() as session, told():
            people.add_person(session, _act(), name=name, role=Role(role), password_hash=password_hash)
        answer({"name": name, "role": role}, f"{name} can sign in.", as_json=as_json)

    @group.command("password")
    @click.argument("name")
    @from_stdin
    @as_json_option
    def password(name: str, password_stdin: bool, as_json: bool) -> None:
        """Give a person a new password; wherever signed in, he is signed out.

        Use it when one was forgotten, or may be known to somebody else.

        \b
        Example: dipledger user password Maren
        """
        password_hash = _asked(name, stdin=password_stdin)
        with opened() as database, database.writing() as session, told():
            person = _person(session, name)
            people.change_person(session, _act(), person, {"password_hash": password_hash})
        answer({"name": name}, f"{name} has a new password.", as_json=as_json)

    @group.command("code")
    @click.argument("name")
    @click.option("--off", is_flag=True, help="Sign in by password alone again.")
    @as_json_option
    def code(name: str, off: bool, as_json: bool) -> None:
        """Ask for a six-digit code besides the password (RFC 6238); prints what an authenticator scans.

        Use it for owner and managers when the console can be reached from outside; with --off when the
        device that makes the codes was lost.

        \b
        Example: dipledger user code Maren
        """
        seed = secrets_of_people.new_seed()
        sealed = None if off else secrets_of_people.seal(seed, settings().secret)
        with opened() as database, database.writing() as session, told():
            people.change_person(session, _act(), _person(session, name), {"totp_sealed": sealed})
        address = None if off else secrets_of_people.seed_address(seed, name)
        if address is not None and not as_json:
            segno.make(address).terminal(compact=True)
        said = address or f"{name} signs in by password alone."
        answer({"name": name, "address": address}, said, as_json=as_json)


def _keeping(group: click.Group, opened: Opened) -> None:
    @group.command("off")
    @click.argument("name")
    @click.option("--on", is_flag=True, help="Let in again.")
    @as_json_option
    def switch_off(name: str, on: bool, as_json: bool) -> None:
        """Let a person in no longer, at once, and no token that is his.

        Use it on the day somebody leaves. What he did stays in the journal under his name.

        \b
        Examples: dipledger user off Piet
                  dipledger user off Piet --on
        """
        with opened() as database, database.writing() as session, told():
            people.change_person(session, _act(), _person(session, name), {"active": on})
        answer(
            {"name": name, "active": on},
            f"{name} {'may' if on else 'may no longer'} sign in.",
            as_json=as_json,
        )

    @group.command("list")
    @as_json_option
    def listed(as_json: bool) -> None:
        """List everybody who may sign in, and how.

        \b
        Example: dipledger user list
        """
        with opened() as database, database.reading() as session:
            found = [
                {"name": who.name, "role": who.role, "active": who.active, "code": bool(who.totp_sealed)}
                for who in session.scalars(select(Person).order_by(Person.name_key))
            ]
        answer({"items": found}, table({str(who["name"]): _how(who) for who in found}), as_json=as_json)


def _asked(name: str, *, stdin: bool) -> str:
    given = sys.stdin.readline().rstrip("\r\n") if stdin else _prompted()
    with told():
        return secrets_of_people.hashed(people.acceptable(given, name))


def _how(who: Mapping[str, object]) -> str:
    how = "password and code" if who["code"] else "password"
    return f"{who['role']}  {how if who['active'] else 'off'}"


def _prompted() -> str:
    return str(click.prompt("Password", hide_input=True, confirmation_prompt=True))


def _person(session: Session, name: str) -> Person:
    found = person_by_name(session, name)
    if found is None:
        raise Refused(f"There is nobody called {name}.", "not-found")
    return found


def _act() -> Act:
    now = utc_now()
    return Act("command line", now, now)

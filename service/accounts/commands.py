"""`dipledger user ...`: the people who sign in."""

import sys
from collections.abc import Callable
from contextlib import AbstractContextManager

import click
import segno
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.accounts import people, secrets_of_people
from service.accounts.people_models import Person
from service.accounts.people_queries import person_by_name
from service.accounts.rules import Role
from service.core.clock import utc_now
from service.core.db import Database
from service.core.errors import Problem
from service.core.settings import Settings
from service.journal.acts import Act

Opened = Callable[[], AbstractContextManager[Database]]
HUMAN = [role.value for role in Role if role is not Role.SHOP]
from_stdin = click.option(
    "--password-stdin", is_flag=True, help="Read the password from the first line of standard input."
)


def user_commands(settings: Callable[[], Settings], opened: Opened) -> click.Group:
    """The commands; `settings` and `opened` are called when one of them runs."""
    group = click.Group("user", help="People who sign in to the console.")
    _signing_in(group, settings, opened)
    _keeping(group, opened)
    return group


def _signing_in(group: click.Group, settings: Callable[[], Settings], opened: Opened) -> None:
    @group.command("password")
    @click.argument("name")
    @from_stdin
    def password(name: str, password_stdin: bool) -> None:  # noqa: FBT001  # as above
        """Give a person a new password; wherever signed in, he is signed out."""
        password_hash = _asked(name, stdin=password_stdin)
        with opened() as database, database.writing() as session, _told():
            person = _person(session, name)
            people.change_person(session, _act(), person, {"password_hash": password_hash})
        click.echo(f"{name} has a new password.")

    @group.command("code")
    @click.argument("name")
    @click.option("--off", is_flag=True, help="Sign in by password alone again.")
    def code(name: str, off: bool) -> None:  # noqa: FBT001  # as above
        """Ask for a six-digit code besides the password (RFC 6238); prints what an authenticator scans."""
        seed = secrets_of_people.new_seed()
        sealed = None if off else secrets_of_people.seal(seed, settings().secret)
        with opened() as database, database.writing() as session, _told():
            people.change_person(session, _act(), _person(session, name), {"totp_sealed": sealed})
        if not off:
            address = secrets_of_people.seed_address(seed, name)
            segno.make(address).terminal(compact=True)
            click.echo(address)


def _keeping(group: click.Group, opened: Opened) -> None:
    @group.command("add")
    @click.option("--name", required=True, help="What the person signs in as.")
    @click.option("--role", required=True, type=click.Choice(HUMAN))
    @from_stdin
    def add(name: str, role: str, password_stdin: bool) -> None:  # noqa: FBT001  # how click hands a flag over
        """Add a person; the password is asked for."""
        password_hash = _asked(name, stdin=password_stdin)
        with opened() as database, database.writing() as session, _told():
            people.add_person(session, _act(), name=name, role=Role(role), password_hash=password_hash)
        click.echo(f"{name} can sign in.")

    @group.command("off")
    @click.argument("name")
    @click.option("--on", is_flag=True, help="Let in again.")
    def switch_off(name: str, on: bool) -> None:  # noqa: FBT001  # as above
        """Let a person in no longer, at once."""
        with opened() as database, database.writing() as session, _told():
            people.change_person(session, _act(), _person(session, name), {"active": on})
        click.echo(f"{name} {'may' if on else 'may no longer'} sign in.")

    @group.command("list")
    def listed() -> None:
        """List everybody who may sign in."""
        with opened() as database, database.reading() as session:
            for person in session.scalars(select(Person).order_by(Person.name_key)):
                code = "password and code" if person.totp_sealed else "password"
                click.echo(f"{person.name}\t{person.role}\t{code if person.active else 'off'}")


def _asked(name: str, *, stdin: bool) -> str:
    given = sys.stdin.readline().rstrip("\r\n") if stdin else _prompted()
    with _told():
        return secrets_of_people.hashed(people.acceptable(given, name))


def _prompted() -> str:
    return str(click.prompt("Password", hide_input=True, confirmation_prompt=True))


def _person(session: Session, name: str) -> Person:
    found = person_by_name(session, name)
    if found is None:
        raise click.ClickException(f"There is nobody called {name}.")
    return found


def _act() -> Act:
    now = utc_now()
    return Act("command line", now, now)


class _told:  # noqa: N801  # reads as a verb where it is used
    """Turns a refusal of ours into the one sentence that a command prints."""

    def __enter__(self) -> None:
        """Nothing to do."""

    def __exit__(self, kind: object, problem: BaseException | None, trace: object) -> None:
        if isinstance(problem, Problem):
            raise click.ClickException(problem.detail) from None

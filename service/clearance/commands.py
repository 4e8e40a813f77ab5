"""What the command line does with statements and their keys."""

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import click
import orjson
from joserfc.jwk import OKPKey

from service.clearance import keys
from service.clearance.resigning import sign_anew
from service.clearance.rules_page import LAYOUT, sections
from service.clearance.rules_words import TITLE
from service.clearance.signing import SigningKeyProblem, load, load_public
from service.clearance.verifying import Verdict, verify
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings, SettingsProblem, read_settings
from service.journal.actions import record
from service.journal.acts import Act

Opened = Callable[[], AbstractContextManager[Database]]

VALID, NOT_VALID, CANNOT_SAY = 0, 1, 2
NO_KEYS = (
    "There are no keys to check with: this machine is not the issuer's. Fetch them once from the issuer's "
    "own address, https://ISSUER/.well-known/jwks.json, and give them with --keys. Keys that come with the "
    "statement prove nothing, so none are taken from it."
)
ONLY_ONLINE = "Whether it was taken back since it was signed only its check page tells"


@click.command("verify")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--keys", "jwks", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="The issuer's JWKS."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of lines.")
def verify_file(file: Path, jwks: Path | None, as_json: bool) -> None:  # noqa: FBT001  # how click hands it over
    """Check a statement (PDF or JWS) offline; 0 valid, 1 not valid, 2 cannot be checked.

    Without --keys the keys of this house are used, if it has any.
    """
    try:
        trusted = load_public(jwks) if jwks else _own_keys()
        content = file.read_bytes()
    except (SigningKeyProblem, OSError) as problem:
        click.echo(f"cannot say: {problem}", err=True)
        sys.exit(CANNOT_SAY)
    verdict = verify(content, trusted, utc_now())
    click.echo(_document(verdict) if as_json else "\n".join(_lines(verdict)))
    sys.exit(VALID if verdict.valid else NOT_VALID)


def key_commands(settings: Callable[[], Settings], opened: Opened) -> click.Group:
    """The commands; `settings` and `opened` are called when one of them runs."""
    group = click.Group("keys", help="The keys that statements are signed with.")

    @group.command("list")
    def list_keys() -> None:
        """Show every key: which one signs, which are published still, which were withdrawn."""
        with _told():
            for key in keys.listed(settings().signing_key_file):
                click.echo(f"{key.kid}  {key.state}{f' since {key.since}' if key.since else ''}")

    @group.command("rotate")
    def rotate() -> None:
        """Sign with a new key from now on; what the former one signed stays valid."""
        with _told(), opened() as database, database.writing() as session:
            kid = keys.rotate(settings().signing_key_file)
            record(session, _act(), "house.key_rotated", [], after={"kid": kid})
        click.echo(f"{kid} signs now. A running service has seen it.")

    @group.command("revoke")
    @click.argument("kid")
    def revoke(kid: str) -> None:
        """Withdraw a key that somebody else may have: what it signed is valid no more.

        Living statements that it signed are issued anew with another key first. When it stops halfway,
        run it again.
        """
        with _told(), opened() as database:
            done = _withdrawn(database, settings().signing_key_file, kid)
        click.echo(
            f"{kid} is withdrawn; {done} living statements were issued anew. Send them to whoever has one."
        )

    return group


def _withdrawn(database: Database, file: Path, kid: str) -> int:
    states = {key.kid: key.state for key in keys.listed(file)}
    if kid not in states:
        raise click.ClickException(f"There is no key {kid}. See: dipledger keys list")
    if states[kid] == "signs":
        click.echo(f"{keys.rotate(file)} signs now.")
    done = _signed_anew(database, kid)
    keys.withdraw(file, kid, utc_now())
    # Whoever had signed but not committed at that moment is found by looking again.
    done += _signed_anew(database, kid)
    with database.writing() as session:
        record(session, _act(), "house.key_revoked", [], after={"kid": kid, "reissued": done})
    return done


def _signed_anew(database: Database, kid: str) -> int:
    with database.writing() as session:
        return sign_anew(session, _act(), kid)


def _act() -> Act:
    now = utc_now()
    return Act("command line", now, now)


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except (SigningKeyProblem, OSError) as problem:
        raise click.ClickException(str(problem)) from problem


def _own_keys() -> Sequence[OKPKey]:
    try:
        file = read_settings().signing_key_file
    except SettingsProblem as problem:
        raise SigningKeyProblem(NO_KEYS) from problem
    if not file.exists():
        raise SigningKeyProblem(NO_KEYS)
    return load(file)


def _document(verdict: Verdict) -> bytes:
    reasons = [{"code": reason.code, "detail": reason.detail} for reason in verdict.reasons]
    found = {
        "valid": verdict.valid,
        "kind": verdict.kind,
        "reasons": reasons,
        "claims": verdict.claims,
        "check_url": verdict.claims.get("check_url"),
    }
    return orjson.dumps(found, option=orjson.OPT_INDENT_2)


def _lines(verdict: Verdict) -> list[str]:
    lines = ["valid" if verdict.valid else "NOT VALID"]
    lines += [f"  {reason.detail}" for reason in verdict.reasons]
    if not verdict.claims:
        return lines
    lines += ["", f"{TITLE}: what was signed", *_said(verdict.claims)]
    return [*lines, "", f"{ONLY_ONLINE}: {verdict.claims.get('check_url', '-')}"]


def _said(claims: Mapping[str, Any]) -> Iterator[str]:
    if claims.get("layout") != LAYOUT:
        yield orjson.dumps(claims, option=orjson.OPT_INDENT_2).decode()
        return
    for section in sections(claims):
        yield section.heading
        yield from (f"  {about}: {text}" if about else f"  {text}" for about, text in section.lines)

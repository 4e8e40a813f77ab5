"""What the command line does with statements and their keys."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
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
from service.core.command_line import Found, Opened, Refused, answer, as_json_option, told
from service.core.db import Database
from service.core.settings import SettingsProblem, read_settings
from service.journal.actions import record
from service.journal.acts import Act

HELP = """The keys that statements are signed with.

They are one file outside the database (signing-key.json). Copy it to another place once it is made and
after every change: without it no statement can be signed that readers know the key of.
"""
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
@as_json_option
def verify_file(file: Path, jwks: Path | None, as_json: bool) -> None:
    """Check a statement (PDF or JWS) offline: the signature, the days, and that its print was not changed.

    For whoever bought plants, and for the issuer. Without --keys the keys of this house are used, if it has
    any. That it was taken back since, only its check page tells.

    \b
    Example: curl -o jwks.json https://ISSUER/.well-known/jwks.json
             dipledger verify statement.pdf --keys jwks.json
    Exit codes: 0 valid, 1 not valid, 2 cannot be checked.
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


def key_commands(settings: Found, opened: Opened) -> click.Group:
    """The commands; `settings` and `opened` are called when one of them runs."""
    group = click.Group("keys", help=HELP)

    @group.command("list")
    @as_json_option
    def list_keys(as_json: bool) -> None:
        """Show every key: which one signs, which are published still, which were withdrawn.

        \b
        Example: dipledger keys list
        """
        with told(SigningKeyProblem, OSError):
            found = keys.listed(settings().signing_key_file)
        lines = [f"{key.kid}  {key.state}{f' since {key.since}' if key.since else ''}" for key in found]
        answer({"items": [asdict(key) for key in found]}, "\n".join(lines), as_json=as_json)

    @group.command("rotate")
    @as_json_option
    def rotate(as_json: bool) -> None:
        """Sign with a new key from now on; what the former one signed stays valid.

        Use it once a year, or when somebody leaves who could have copied the file. Then copy the file anew.

        \b
        Example: dipledger keys rotate
        """
        with told(SigningKeyProblem, OSError), opened() as database, database.writing() as session:
            kid = keys.rotate(settings().signing_key_file)
            record(session, _act(), "house.key_rotated", [], after={"kid": kid})
        answer({"kid": kid}, f"{kid} signs now. A running service has seen it.", as_json=as_json)

    @group.command("revoke")
    @click.argument("kid")
    @as_json_option
    def revoke(kid: str, as_json: bool) -> None:
        """Withdraw a key that somebody else may have: what it signed is valid no more.

        Living statements that it signed are issued anew with another key first. When it stops halfway,
        run it again. For a yearly change use 'rotate', which leaves what was signed as it is.

        \b
        Example: dipledger keys revoke KID     (from 'dipledger keys list')
        """
        with told(SigningKeyProblem, OSError), opened() as database:
            done = _withdrawn(database, settings().signing_key_file, kid)
        text = f"{kid} is withdrawn; {done} living statements were issued anew. Send them to whoever has one."
        answer({"kid": kid, "reissued": done}, text, as_json=as_json)

    return group


def _withdrawn(database: Database, file: Path, kid: str) -> int:
    states = {key.kid: key.state for key in keys.listed(file)}
    if kid not in states:
        raise Refused(f"There is no key {kid}. See: dipledger keys list", "not-found")
    if states[kid] == "signs":
        click.echo(f"{keys.rotate(file)} signs now.", err=True)
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

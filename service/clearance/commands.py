"""What the command line does with statements and their keys."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import orjson
from joserfc.jwk import OKPKey

from service.clearance.rules_page import LAYOUT, sections
from service.clearance.rules_words import TITLE
from service.clearance.signing import SigningKeyProblem, load, load_public
from service.clearance.verifying import Verdict, verify
from service.core.settings import SettingsProblem, read_settings

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
    "--keys", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="The issuer's JWKS."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON document instead of lines.")
def verify_file(file: Path, keys: Path | None, as_json: bool) -> None:  # noqa: FBT001  # how click hands it over
    """Check a statement (PDF or JWS) offline; 0 valid, 1 not valid, 2 cannot be checked.

    Without --keys the keys of this house are used, if it has any.
    """
    try:
        trusted = load_public(keys) if keys else _own_keys()
        content = file.read_bytes()
    except (SigningKeyProblem, OSError) as problem:
        click.echo(f"cannot say: {problem}", err=True)
        sys.exit(CANNOT_SAY)
    verdict = verify(content, trusted, datetime.now(UTC))
    click.echo(_document(verdict) if as_json else "\n".join(_lines(verdict)))
    sys.exit(VALID if verdict.valid else NOT_VALID)


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

"""What the printed statement says, as plain lines made from nothing but the claims of the signed one."""

import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

LAYOUT = 1  # goes into the claims: whoever checks a page must draw it exactly as it was drawn
UNPRINTABLE = (
    "Letters that the typeface of this page lacks stand as their Unicode numbers [U+...]; the signed "
    "statement inside this file has them as they are."
)
SHOWN = {
    "layout",
    "jti",
    "iat",
    "nbf",
    "exp",
    "sub",
    "iss",
    "issuer",
    "lot",
    "scientific_name",
    "quantity",
    "unit_of_sale",
    "check_url",
    "looked_for",
    "treatments",
    "looks",
    "last_water_contact",
    "policy",
    "policy_version",
    "rules_version",
    "reference_version",
    "chance_none_is_left",
    "overrides",
    "supersedes",
    "parcel",
    "statement",
}


@dataclass(frozen=True)
class Section:
    """A heading and its lines, each with what it is about (empty: a plain sentence)."""

    heading: str
    lines: Sequence[tuple[str, str]]


def sections(claims: Mapping[str, Any]) -> list[Section]:
    """The whole page in order; a claim that has no place of its own is shown under "Also stated".

    Times are in UTC. Raises KeyError or TypeError for claims that are no statement of ours.
    """
    found = [
        Section("Plants", _plants(claims)),
        Section("This statement", _numbers(claims)),
        Section("Cleared although", [_override(each) for each in claims.get("overrides", ())]),
        Section("Issued by", [("Seller", _seller(claims["issuer"])), ("Service", claims["iss"])]),
        Section("Looked for", [("", ", ".join(claims["looked_for"]))]),
        Section("Treatments", [("", _treatment(each)) for each in claims["treatments"]]),
        Section("Looks", [("", _look(each)) for each in claims["looks"]]),
        Section("Chance that none is left", [_chance(each) for each in claims["chance_none_is_left"]]),
        Section("Judged by", _judged(claims)),
        Section("Also stated", [*_others(claims)]),
        Section("What this means", [("", sentence) for sentence in claims["statement"]]),
    ]
    return [section for section in found if section.lines]


def readable(text: str, printable: Callable[[str], bool]) -> str:
    """A text with each letter that cannot be printed as its Unicode number."""
    composed = unicodedata.normalize("NFC", text)
    return "".join(letter if printable(letter) else f"[U+{ord(letter):04X}]" for letter in composed)


def _plants(claims: Mapping[str, Any]) -> list[tuple[str, str]]:
    quantity = f"{claims['quantity']} × {claims['unit_of_sale']}"
    lines = [("Plant", claims["scientific_name"]), ("Quantity", quantity), ("Lot", claims["lot"])]
    parcel = claims.get("parcel")
    if parcel is not None:
        lines.append(("Parcel", f"Sent on {_day(parcel['sent_at'])}; part of statement {parcel['of']}"))
    return [*lines, ("Registered as", claims["sub"])]


def _numbers(claims: Mapping[str, Any]) -> list[tuple[str, str]]:
    lines = [
        ("Number", claims["jti"]),
        ("Issued", _moment(claims["iat"])),
        ("Stands from", _moment(claims["nbf"])),
        ("Valid until", _moment(claims["exp"])),
        ("Check at", claims["check_url"]),
    ]
    return [*lines, ("In place of", claims["supersedes"])] if "supersedes" in claims else lines


def _seller(issuer: Mapping[str, str]) -> str:
    return ", ".join(part for part in (issuer["name"], *issuer["address"].splitlines()) if part) or "-"


def _treatment(each: Mapping[str, Any]) -> str:
    days = f"from {_text_moment(each['from'])} to {_text_moment(each['to'])}"
    return f"{each['protocol']}, version {each['version']}, {days}: {each['state']}"


def _look(each: Mapping[str, Any]) -> str:
    size = "" if each["looked_at"] is None else f", {each['looked_at']} of {each['of']} looked at"
    found = f"{each['live_found']} found alive" if each["live_found"] else "nothing found alive"
    return f"{_text_moment(each['at'])}, {each['method'].replace('_', ' ')}{size}: {found}"


def _chance(each: Mapping[str, Any]) -> tuple[str, str]:
    share = f"reckoned with a never-seen share of {_per_cent(each['never_seen_share'])}"
    return each["pest"].replace("_", " ").capitalize(), f"{_per_cent(each['chance'])}, {share}"


def _override(each: Mapping[str, Any]) -> tuple[str, str]:
    measured = f"needed {each['needed']}, there was {each['have']}"
    text = f"{each['not_met']} ({measured}) The owner's reason: {each['reason']}"
    return each["gate"].replace("_", " ").capitalize(), text


def _judged(claims: Mapping[str, Any]) -> list[tuple[str, str]]:
    contact = claims["last_water_contact"]
    return [
        ("Policy", f"{claims['policy']}, version {claims['policy_version']}"),
        ("Rules", f"version {claims['rules_version']}"),
        ("Reference data", claims["reference_version"]),
        ("Waiting since", "-" if contact is None else _text_moment(contact)),
        ("Layout", str(claims["layout"])),
    ]


def _others(claims: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name in sorted(set(claims) - SHOWN):
        for text in _flat(claims[name]):
            yield name.replace("_", " ").capitalize(), text


def _flat(claim: Any) -> list[str]:
    if isinstance(claim, list):
        return [text for each in claim for text in _flat(each)]
    if isinstance(claim, dict):
        return ["; ".join(f"{name.replace('_', ' ')}: {claim[name]}" for name in claim)]
    return [str(claim)]


def _per_cent(share: float) -> str:
    return f"{100 * share:.2f} %"


def _moment(seconds: float) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M} UTC"


def _text_moment(text: str | None) -> str:
    return (
        "(not recorded)"
        if text is None
        else f"{datetime.fromisoformat(text).astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    )


def _day(text: str) -> str:
    return f"{datetime.fromisoformat(text).astimezone(UTC):%Y-%m-%d}"

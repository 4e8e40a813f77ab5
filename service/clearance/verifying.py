"""Checking a statement without network or database: its signature, its days, and the page it came on."""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import orjson
from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwk import OKPKey
from joserfc.util import urlsafe_b64decode, urlsafe_b64encode
from pypdf import PdfReader
from pypdf.errors import PyPdfError

from service.clearance.pdf import ATTACHMENT, statement_pdf
from service.clearance.rules_page import LAYOUT
from service.clearance.signing import ALGORITHM, TYPE
from service.core.reasons import Reason

LARGEST = 5_000_000  # bytes; a statement is some tens of thousands
PDF_PROBLEMS = (
    PyPdfError,
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
)


@dataclass(frozen=True)
class Verdict:
    """Whether a file is a statement that holds, every reason why not, and what was truly signed."""

    kind: str
    reasons: Sequence[Reason]
    claims: Mapping[str, Any] = field(default_factory=dict)

    @property
    def valid(self) -> bool:
        """True when nothing speaks against it."""
        return not self.reasons


class NotValid(Exception):
    """The one reason why a check ended."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.reason = Reason(code, detail)


def verify(content: bytes, keys: Sequence[OKPKey], now: datetime) -> Verdict:
    """Judge a PDF or a compact JWS by keys that the caller trusts; never by anything inside the file.

    Whether a statement was taken back since it was signed no file can tell: only the check page does.
    """
    kind = "pdf" if content.startswith(b"%PDF-") else "jws"
    try:
        token = _inside(content) if kind == "pdf" else _text(content)
        claims = signed_claims(token, keys)
    except NotValid as found:
        return Verdict(kind, [found.reason])
    reasons = _days(claims, now)
    if kind == "pdf":
        reasons += _page(content, claims, token)
    return Verdict(kind, reasons, claims)


def signed_claims(token: str, keys: Sequence[OKPKey]) -> Mapping[str, Any]:
    """The claims of a compact JWS that one of these keys signed as a statement; raises NotValid.

    Algorithm and type are pinned (RFC 8725, 3.1 and 3.11); a key in the header is never looked at.
    """
    header = _header(token)
    if header.get("alg") != ALGORITHM:
        raise NotValid("algorithm", f"It is not signed with {ALGORITHM}.")
    if header.get("typ") != TYPE:
        raise NotValid("type", "What is signed is no statement of this kind.")
    key = next((key for key in keys if key.thumbprint() == header.get("kid")), None)
    if key is None:
        raise NotValid(
            "unknown-key", "It is signed with a key that is not, or no longer, among the issuer's."
        )
    try:
        payload = jws.deserialize_compact(token, key, algorithms=[ALGORITHM]).payload
        claims = orjson.loads(payload or b"")
    except (JoseError, ValueError) as problem:
        raise NotValid("signature", "The signature does not fit: something was changed.") from problem
    if not isinstance(claims, dict):
        raise NotValid("type", "What is signed is no statement of this kind.")
    return claims


def _header(token: str) -> Mapping[str, Any]:
    parts = token.split(".")
    try:
        exact = len(parts) == 3 and all(
            urlsafe_b64encode(urlsafe_b64decode(p)) == p for p in map(_ascii, parts)
        )
        header = orjson.loads(urlsafe_b64decode(_ascii(parts[0]))) if exact else None
    except ValueError:
        header = None
    if not isinstance(header, dict):
        raise NotValid("no-statement", "This is no signed statement.")
    return header


def _ascii(text: str) -> bytes:
    return text.encode("ascii")


def _text(content: bytes) -> str:
    if len(content) > LARGEST:
        raise NotValid("too-large", "The file is too large to be a statement.")
    try:
        return content.decode("ascii").strip()
    except UnicodeDecodeError as problem:
        raise NotValid("no-statement", "This is no signed statement.") from problem


def _inside(content: bytes) -> str:
    if len(content) > LARGEST:
        raise NotValid("too-large", "The file is too large to be a statement.")
    try:
        attached = list(PdfReader(io.BytesIO(content)).attachment_list)
        found = [each.content for each in attached if each.name == ATTACHMENT]
    except PDF_PROBLEMS as problem:
        raise NotValid("no-statement", "The file cannot be read as a PDF.") from problem
    if len(found) != 1:
        raise NotValid("no-statement", "The PDF does not hold exactly one signed statement.")
    return _text(found[0])


def _days(claims: Mapping[str, Any], now: datetime) -> list[Reason]:
    start, end = claims.get("nbf"), claims.get("exp")
    if not isinstance(start, int) or not isinstance(end, int):
        return [Reason("type", "The statement does not say from when until when it stands.")]
    if now.timestamp() < start:
        return [Reason("not-yet", f"It stands only from {_moment(start)} on.")]
    if now.timestamp() >= end:
        return [Reason("expired", f"It was valid until {_moment(end)}.")]
    return []


def _page(content: bytes, claims: Mapping[str, Any], token: str) -> list[Reason]:
    if claims.get("layout") != LAYOUT:
        return [Reason("layout", "The page has a layout that this version of Dipledger cannot draw.")]
    try:
        same = statement_pdf(claims, token) == content
    except (LookupError, TypeError, ValueError, AttributeError):
        same = False
    if same:
        return []
    detail = (
        "The page is not the one that the signed statement inside makes: it was changed, or saved anew by "
        "another program. Trust the lines below, not the page; or ask for the file anew."
    )
    return [Reason("page-differs", detail)]


def _moment(seconds: int) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M} UTC"

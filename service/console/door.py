"""Who is at the door of the console: session cookie, forged requests, and the headers of every page."""

import hashlib
import hmac
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlsplit

from flask import Blueprint, Response, abort, g, redirect, request, url_for
from werkzeug import Response as AnyResponse

from service.accounts import people, people_queries
from service.accounts.rules import READERS
from service.core.house import manner
from service.core.http import Caller, database, settings
from service.core.inside import reading
from service.photos.rules import LARGEST_BYTES

blueprint = Blueprint(
    "console",
    __name__,
    url_prefix="/console",
    template_folder="templates",
    static_folder="static",
    static_url_path="/static",
)
OPEN = {"console.static", "console.sign_in", "console.sign_in_now", "console.service_worker"}
MOST_OF_PHOTOS = 3 * LARGEST_BYTES  # of one form
SEEN_EVERY = timedelta(minutes=5)
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
        "object-src 'none'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "same-origin",  # so that a form's Origin is sent
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cross-Origin-Opener-Policy": "same-origin",
}


@dataclass(frozen=True)
class Bench:
    """What every page knows: who is there, the token his forms carry, and how the house writes."""

    person: Caller | None
    csrf: str
    zone: str
    locale: str
    units: str


def bench() -> Bench:
    """What this page knows."""
    found: Bench = g.bench
    return found


def person() -> Caller:
    """Who is signed in; pages behind the door are only reached with one."""
    found = bench().person
    if found is None:
        abort(403)
    return found


@blueprint.before_request
def knock() -> AnyResponse | None:
    """Find out who is there; turn forged acts away, and send strangers to sign in."""
    if request.endpoint == "console.static":
        return None
    if request.path.endswith("/photos"):
        request.max_content_length = MOST_OF_PHOTOS  # the fields that prove the form are behind its files
    secret = request.cookies.get(cookie_name(), "")
    with reading() as reader:
        zone, locale, units = manner(reader)
        found = people_queries.present(reader, secret, g.now) if secret else None
    someone = found is not None and found.role in READERS
    caller = Caller(found.id, found.name, found.role) if found and someone else None
    g.bench = Bench(caller, csrf_of(secret) if caller else "", zone, locale, units)
    if request.method == "POST":
        _refuse_forged()
    if caller is None:
        return None if request.endpoint in OPEN else _to_sign_in()
    if found is not None and g.now - found.seen_at > SEEN_EVERY:
        with database().writing() as writer:
            people.seen(writer, secret, g.now)
    return None


@blueprint.after_request
def close(response: Response) -> Response:
    """Give every page its headers; nothing but the static files may be kept by a browser."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)  # a photo has a stricter policy of its own
    if secure():
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    if request.endpoint != "console.static":
        response.headers["Cache-Control"] = "no-store"
    return response


def secure() -> bool:
    """True when people reach the house over TLS."""
    return settings().public_url.startswith("https://")


def cookie_name() -> str:
    """The name of the session cookie; the prefix binds it to this host and to TLS (RFC 6265bis)."""
    return "__Host-dipledger" if secure() else "dipledger"


def let_in(response: AnyResponse, secret: str) -> None:
    """Give the browser its session."""
    response.set_cookie(cookie_name(), secret, secure=secure(), httponly=True, samesite="Lax", path="/")


def forget(response: AnyResponse) -> None:
    """Take the session from the browser."""
    response.delete_cookie(cookie_name(), secure=secure(), httponly=True, samesite="Lax", path="/")


def csrf_of(secret: str) -> str:
    """The token that the forms of a session carry."""
    return hmac.new(settings().secret.encode(), f"form {secret}".encode(), hashlib.sha256).hexdigest()


def inside_address(address: str | None) -> str | None:
    """An address of the console, None for one that leads anywhere else."""
    if not address or not address.startswith("/console/") or "\\" in address:
        return None
    parts = urlsplit(address)
    return None if parts.scheme or parts.netloc else address


def _to_sign_in() -> AnyResponse:
    if request.headers.get("Accept") == "application/json":
        abort(401)
    back = request.full_path.rstrip("?") if request.method == "GET" else None
    return redirect(url_for("console.sign_in", back=back), 303)


def _refuse_forged() -> None:
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in {"same-origin", "none"}:
        abort(403, description="This form was sent from another site.")
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != request.host:
        abort(403, description="This form was sent from another site.")
    wanted = bench().csrf
    if wanted and not hmac.compare_digest(wanted, request.form.get("csrf", "")):
        abort(403, description="This form is no longer good. Load the page again.")

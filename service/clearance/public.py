"""What anybody may see without a token: the check page of a certificate, and the keys it is signed with."""

from datetime import datetime
from typing import Any

from flask import Response, g, render_template_string, request

from service.clearance import checking, queries, schemas
from service.clearance.rules_checking import place_of, serial_of
from service.clearance.rules_status import meaning
from service.clearance.signing import load, make_key_file, public_jwks
from service.core.errors import NotFound
from service.core.http import Router, answer, database, session, settings
from service.core.problems import MEDIA_TYPE, problem

blueprint = Router("public", "public", description="What anybody may check without a token.")

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Vary": "Accept",
}
HTML = {"text/html": {"schema": {"type": "string"}}}
PROBLEM = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
BOTH = {
    "responses": {
        200: {"content": HTML},
        404: {"content": HTML},
        429: {"description": "Too many unknown numbers from one address", "content": {**HTML, **PROBLEM}},
    }
}
HEAD = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Snail-clearance statement {{ serial }}</title>
<style>
body { font: 1rem/1.5 system-ui, sans-serif; color: #222; background: #fff;
  max-width: 40rem; margin: 2rem auto; padding: 1rem }
h1 { font-size: 1.3rem } dt { color: #555 } dd { margin: 0 0 .6rem }
.status { font-size: 1.5rem; font-weight: bold; color: {{ "#17662f" if status == "valid" else "#9b1c1c" }} }
code, a { overflow-wrap: anywhere } code { font-size: .75rem }
</style>
<main>
<h1>Snail-clearance statement</h1>
"""
PAGE = (
    HEAD
    + """<p>Number {{ serial }}</p>
<p class="status">{{ status }}</p>
<p>{{ meaning }}{% if superseded_by %}
<a href="/c/{{ superseded_by }}">{{ superseded_by }}</a>{% endif %}</p>
<dl>
<dt>Plants</dt><dd>{{ quantity }} {{ unit_of_sale }}, <i>{{ scientific_name }}</i>, lot {{ lot_code }}</dd>
<dt>Issued by</dt><dd>{{ issuer.name or "the nursery" }} {{ issuer.address }}</dd>
<dt>Issued</dt><dd>{{ issued_at.strftime("%Y-%m-%d") }}</dd>
<dt>Valid until</dt><dd>{{ expires_at.strftime("%Y-%m-%d") }}</dd>
<dt>Looked for</dt><dd>{{ looked_for | join(", ") }}</dd>
</dl>
<p>Does this fit the plants and the paper that you have? If lot, plant or quantity differ,
it speaks of others.</p>
{% for sentence in statement %}<p>{{ sentence }}</p>
{% endfor %}<details><summary>Signed text</summary><code>{{ jws }}</code></details>
</main>
</html>
"""
)
UNKNOWN = (
    HEAD
    + """<p class="status">unknown</p>
<p>There is no statement with this number here. Look at the number again; if it is right, nothing was
stated of the plants, whatever the paper says.</p>
</main>
</html>
"""
)
TOO_MANY = (
    HEAD
    + """<p class="status">not looked up</p>
<p>Too many numbers that are none were asked for from here. Wait {{ minutes }} minutes and try again, or check
the file itself: that needs no network.</p>
</main>
</html>
"""
)


@blueprint.route("/c/<path:serial>")
@blueprint.doc(**BOTH)  # type: ignore[untyped-decorator]  # flask-smorest ships no types
@blueprint.response(200, schemas.CheckOut)
def check_certificate(serial: str) -> Response:
    """Check a certificate: JSON when asked for, a page otherwise; any number that is none looks alike."""
    place, most = place_of(request.remote_addr), settings().check_misses
    until = checking.closed_until(session(), place, most, g.now)
    if until is not None:
        response = _wait(until)
    else:
        asked = serial_of(serial)
        found = queries.public_view(session(), asked, g.now) if asked else None
        response = _known(found) if found else _unknown(place)
    response.headers.update(HEADERS)
    return response


@blueprint.route("/.well-known/jwks.json")
@blueprint.response(200, schemas.KeysOut)
def show_keys() -> Response:
    """The public keys that certificates are signed with."""
    make_key_file(settings().signing_key_file)
    response = answer(public_jwks(load(settings().signing_key_file)))
    response.headers["Cache-Control"] = "public, max-age=3600"
    return response


def _known(found: dict[str, Any]) -> Response:
    shown = {**found, "meaning": meaning(found["status"], found["since"])}
    return answer(shown) if _wants_json() else _page(PAGE, shown, 200)


def _unknown(place: str) -> Response:
    with database().writing() as writer:
        checking.note_miss(writer, place, g.now)
    if _wants_json():
        return problem(404, "not-found", NotFound("certificate").detail)
    return _page(UNKNOWN, {"serial": "", "status": "unknown"}, 404)


def _wait(until: datetime) -> Response:
    seconds = max(1, round((until - g.now).total_seconds()))
    minutes = -(-seconds // 60)
    told = f"Too many numbers that are none were asked for from here. Wait {minutes} minutes and try again."
    shown = {"serial": "", "status": "", "minutes": minutes}
    response = problem(429, "too-many-requests", told) if _wants_json() else _page(TOO_MANY, shown, 429)
    response.headers["Retry-After"] = str(seconds)
    return response


def _wants_json() -> bool:
    best = request.accept_mimetypes.best_match(["text/html", "application/json"], default="text/html")
    return best == "application/json"


def _page(template: str, shown: dict[str, Any], status: int) -> Response:
    page = render_template_string(template, **shown)
    return Response(page, status, content_type="text/html; charset=utf-8")

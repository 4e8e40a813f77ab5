"""Addresses of photos and papers: sending one, and reading it."""

from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.accounts.rules import BENCH, MANAGERS, READERS, Role
from service.core.errors import Invalid, NotFound
from service.core.http import allow, caller, created, router, session, takes
from service.journal.web import act_from
from service.photos import actions, queries, schemas
from service.photos.rules import ENDINGS, LARGEST_BYTES, PDF, TAKEN, file_name

blueprint = router("photos", "Photos of looks, observations and shipments, and a supplier's papers.")
# A picture is shown, never run: whatever a browser makes of it has no scripts, no origin, no network.
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; sandbox; frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "private, max-age=86400, immutable",
}
KNOW_VOID = MANAGERS | {Role.AUDITOR}
BINARY = {"schema": {"type": "string", "format": "binary"}}
SENT = {"requestBody": {"required": True, "content": dict.fromkeys(TAKEN, BINARY)}}
SHOWN = {"responses": {"200": {"description": "OK", "content": dict.fromkeys(ENDINGS, BINARY)}}}


@blueprint.route("/photos", methods=["POST"])
@allow(BENCH)
@takes(TAKEN, LARGEST_BYTES)
@blueprint.doc(**SENT)  # type: ignore[untyped-decorator]  # flask-smorest ships no types
@blueprint.response(201, schemas.PhotoOut)
def send_photo() -> Response:
    """Keep a JPEG, PNG or WebP picture (16 MB, 50 million points), drawn anew without its metadata.

    A supplier's paper may be a PDF; it is kept as it came. Name it in a look, an observation or a shipment
    within seven days, or it is removed.
    """
    content = request.get_data()
    if not content:
        raise Invalid.at("#", "The body is empty: send the picture itself.", code="no-photo")
    photo = actions.keep_photo(session(), act_from({}), content)
    return created(queries.view(photo), f"/photos/{photo.sha256}")


@blueprint.route("/photos/<sha256>")
@allow(READERS)
@blueprint.arguments(schemas.SizeQuery, location="query")
@blueprint.doc(**SHOWN)  # type: ignore[untyped-decorator]  # as above
def show_photo(asked: Mapping[str, Any], sha256: str) -> Response:
    """Show a photo, as it is kept or small; one that is void to managers and auditors only."""
    photo = queries.photo_by_hash(session(), sha256)
    if caller().role not in KNOW_VOID and queries.is_hidden(session(), photo.id):
        raise NotFound("photo any more: it is void")
    small = asked["size"] == "small" and photo.media_type != PDF
    content = actions.content_of(session(), photo, small=small)
    if content is None:
        raise NotFound("photo any more: its file is lost or altered")
    media_type = "image/jpeg" if small else photo.media_type
    response = Response(content, content_type=media_type, headers=HEADERS)
    name = file_name(photo.sha256, media_type).rpartition("/")[2]
    shown = "attachment" if media_type == PDF else "inline"  # what a PDF holds was not drawn here
    response.headers["Content-Disposition"] = f'{shown}; filename="{name}"'
    response.set_etag(f"{photo.sha256[:32]}-{asked['size']}")
    response.make_conditional(request)
    return response

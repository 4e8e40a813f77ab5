"""The calendar of due work: the private address of one's own, and what stands under it."""

from flask import Response, g, request

from service.accounts.rules import READERS, STAFF
from service.agenda import addresses, queries
from service.agenda.feed import AHEAD, House, calendar
from service.agenda.models import CalendarAddress
from service.agenda.schemas import CalendarAddressOut, CalendarAddressWithSecretOut
from service.core.errors import NotFound
from service.core.house import house
from service.core.http import BASE, Router, allow, answer, caller, created, router, session, settings
from service.journal.web import EmptyForm, act_from

blueprint = router("calendar", "The private address of one's calendar.")
public = Router("calendars", "calendars", description="Calendars of due work, by their private address.")
MEDIA_TYPE = "text/calendar"


@blueprint.route("/calendar-address")
@allow(READERS)
@blueprint.doc(responses={"409": {}})  # type: ignore[untyped-decorator]  # flask-smorest ships no types
@blueprint.response(200, CalendarAddressOut)
def show_address() -> Response:
    """Show since when one's own calendar has an address; what it is was shown when it was made."""
    found = addresses.standing(session(), addresses.person_of(session(), caller().id))
    if found is None:
        raise NotFound("calendar address")
    return answer(_view(found))


@blueprint.route("/calendar-address", methods=["POST"])
@allow(STAFF)
@blueprint.arguments(EmptyForm)
@blueprint.response(201, CalendarAddressWithSecretOut)
def make_address(_body: object) -> Response:
    """Make a private address for one's own calendar, shown this once; the one before ends."""
    g.answers_secret = True
    person = addresses.person_of(session(), caller().id)
    made, secret = addresses.make_address(session(), act_from({}), person)
    address = f"{settings().public_url}/calendar/{secret}.ics"
    return created({**_view(made), "secret": address}, f"{BASE}/calendar-address")


@blueprint.route("/calendar-address", methods=["DELETE"])
@allow(STAFF)
@blueprint.response(204)
def end_address() -> Response:
    """End the address of one's own calendar at once."""
    addresses.end_address(session(), act_from({}), addresses.person_of(session(), caller().id))
    return Response(status=204)


@public.route("/calendar/<secret>.ics")
@public.file(MEDIA_TYPE)
def read_calendar(secret: str) -> Response:
    """The due work of sixty days as iCalendar (RFC 5545), for whoever knows the address."""
    if not addresses.opens(session(), secret):
        raise NotFound("calendar")
    kept = house(session())
    works = queries.due_work(session(), g.now, until=g.now + AHEAD)
    name = f"Due work, {kept.issuer_name}" if kept.issuer_name else "Due work"
    content, tag = calendar(works, House(name, kept.time_zone, settings().public_url), g.now)
    response = Response(content, content_type=f"{MEDIA_TYPE}; charset=utf-8")
    response.headers["Content-Disposition"] = 'inline; filename="due-work.ics"'
    response.headers["Cache-Control"] = "private, no-cache"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.set_etag(tag, weak=True)
    response.make_conditional(request)
    return response


def _view(found: CalendarAddress) -> dict[str, object]:
    return {"created_at": found.created_at}

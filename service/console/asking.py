"""What pages ask of the interface: reading, acting with the form's key, and rehearsing an act."""

from collections.abc import Iterator, Mapping
from typing import Any

from flask import Response, abort, g, request

from service.console.door import bench, person
from service.console.queries_lot import actors
from service.core.ids import new_id
from service.core.inside import Answer, ask, reading
from service.core.pages import PageForm

CSV = "text/csv"
MOST = 200
PAGE_MEMBERS = tuple(PageForm().fields)


def read(path: str, **query: Any) -> Any:
    """What the interface answers to a GET; its 403 and 404 are those of the page."""
    return read_answer(path, **query).body


def read_answer(path: str, **query: Any) -> Answer:
    """The same with its ETag."""
    query = {name.rstrip("_"): value for name, value in query.items()}
    answer = ask(person(), "GET", path, query=query, units=bench().units)
    if not answer.ok:
        abort(answer.status, description=answer.body.get("detail"))
    return answer


def everything(path: str, **query: Any) -> Iterator[Any]:
    """All items of a list, page after page; for lists that are short by their nature."""
    cursor = None
    while True:
        found = read(path, limit=MOST, cursor=cursor, **query)
        yield from found["items"]
        cursor = found["next"]
        if cursor is None:
            return


def csv(path: str, name: str, **query: Any) -> Response:
    """The same as a file for a spreadsheet."""
    query = {key.rstrip("_"): value for key, value in query.items()}
    answer = ask(person(), "GET", path, query=query, units=bench().units, accept=CSV)
    if not answer.ok:
        abort(answer.status, description=answer.body.get("detail"))
    return Response(
        answer.body,
        content_type=f"{CSV}; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def act(  # the parts of an act
    path: str,
    body: Mapping[str, Any] | None,
    *,
    part: str = "",
    method: str = "POST",
    etag: str | None = None,
    query: Mapping[str, Any] | None = None,
) -> Answer:
    """Do something once, however often the form is sent; `part` tells several acts of one form apart."""
    key = f"{request.form.get('key') or new_id()}{'-' if part else ''}{part}"
    return ask(person(), method, path, body, query=query, key=key, etag=etag, units=bench().units)


def send_file(path: str, content: bytes, media_type: str, *, part: str) -> Answer:
    """Send a file once, however often its form is sent."""
    key = f"{request.form.get('key') or new_id()}-{part}"
    return ask(person(), "POST", path, content, key=key, media_type=media_type)


def rehearse(path: str, body: Mapping[str, Any]) -> Answer:
    """What an act would answer; it is rolled back."""
    return ask(person(), "POST", path, body, units=bench().units, rehearsal=True)


def problem_of(path: str, body: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Why an act cannot be done now, None when it can."""
    answer = rehearse(path, body)
    return None if answer.ok else answer.body


def actor(id_: str) -> str:
    """The name of who acted, as he is called now; looked up once a page, and only where it is shown."""
    if "actors" not in g:
        with reading() as reader:
            g.actors = actors(reader)
    return str(g.actors.get(id_, id_))


def page_query() -> dict[str, Any]:
    """The cursor and the limit that this page was asked with."""
    return {name: request.args.get(name) for name in PAGE_MEMBERS if request.args.get(name)}

"""Addresses of the journal: the audit trail, its check, and the history of a lot."""

from collections.abc import Mapping, Sequence
from typing import Any

from flask import Response

from service.core.errors import NotFound
from service.core.http import allow, answer, router, session
from service.core.pages import Page, PageForm, listed, page, page_of
from service.journal import queries
from service.journal.models import JournalEntry
from service.journal.schemas import AuditCheck, AuditQuery, HistoryItem

READERS = {"owner", "manager", "grower", "seller", "auditor"}
TRAIL = {"owner", "manager", "auditor"}
blueprint = router("journal", "What happened, when, by whom.")


@blueprint.route("/audit")
@allow(TRAIL)
@blueprint.arguments(AuditQuery, location="query")
@blueprint.response(200, page_of(HistoryItem))
def list_audit(asked: Mapping[str, Any]) -> Response:
    """List the audit trail in order."""
    statement = queries.entries()
    if asked["subject"]:
        kind, _, thing_id = asked["subject"].partition("/")
        statement = queries.entries_about(kind, thing_id)
    return _history(
        page(session(), statement.where(JournalEntry.seq > asked["after"]), [JournalEntry.seq], asked)
    )


@blueprint.route("/audit/check")
@allow(TRAIL)
@blueprint.response(200, AuditCheck)
def check_audit() -> Response:
    """Prove that nobody altered the trail."""
    found = queries.check_chain(session())
    intact = found.broken_at is None
    return answer(
        {"entries": found.entries, "head": found.head, "intact": intact, "broken_at": found.broken_at}
    )


@blueprint.route("/lots/<id:lot_id>/history")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(HistoryItem))
def lot_history(asked: Mapping[str, Any], lot_id: str) -> Response:
    """List everything that happened to a lot, in order."""
    found = page(session(), queries.entries_about("lot", lot_id), [JournalEntry.seq], asked)
    if not found.rows and not asked["cursor"]:
        raise NotFound("lot")
    return _history(found)


def _history(found: Page) -> Response:
    subjects = queries.subjects_of(session(), [row[0] for row in found.rows])
    return listed(found, lambda row: _item(row, subjects[row[0]]))


def _item(row: Sequence[Any], subjects: list[str]) -> dict[str, Any]:
    return {**dict(zip(queries.NAMES, row, strict=True)), "subjects": subjects}

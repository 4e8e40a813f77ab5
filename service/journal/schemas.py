"""The documented shape of journal answers and the query of the audit trail."""

from marshmallow import fields

from service.core.fields import Form, Instant, QueryWhole, Text
from service.core.pages import PageForm


class HistoryItem(Form):
    """One entry of the journal."""

    seq = fields.Integer()
    at = Instant()
    recorded_at = Instant()
    by = fields.String()
    kind = fields.String()
    subjects = fields.List(fields.String())
    before = fields.Raw()
    after = fields.Raw()
    hash = fields.String()


class AuditQuery(PageForm):
    """Which part of the trail: about one thing ("lot/<id>"), after an entry number."""

    subject = Text(longest=130, load_default=None)
    after = QueryWhole(most=2_000_000_000, load_default=0)


class AuditCheck(Form):
    """The proof that nobody altered the trail, or where it breaks."""

    entries = fields.Integer()
    head = fields.String()
    intact = fields.Boolean()
    broken_at = fields.Integer(allow_none=True)

"""Addresses of clearance: policies, gates, decisions and certificates."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g
from marshmallow import fields

from service.accounts.rules import MANAGERS, OWNERS, READERS, Role
from service.clearance import actions, judging, policies, queries, replaying, schemas
from service.clearance.deciding import clear
from service.clearance.models import Certificate, ClearanceProposal
from service.clearance.pdf import statement_pdf
from service.clearance.proposals import proposal_shape
from service.clearance.rules_decision import Override
from service.clearance.signing import claims_of
from service.core.errors import Forbidden
from service.core.fields import Form
from service.core.http import allow, answer, caller, created, match, router, session, settings
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from
from service.lots import queries as lots
from service.lots.actions import lot_for_change
from service.lots.schemas import LotOut
from service.quarantine.models import Policy
from service.quarantine.queries import policy

blueprint = router("clearance", "Policies, gates, the decision that a lot may be sold, and certificates.")


BINARY = {"type": "string", "format": "binary"}
PDF = {"responses": {200: {"content": {"application/pdf": {"schema": BINARY}}}}}


class ClearedOut(Form):
    """A cleared lot and its certificate."""

    lot = fields.Nested(LotOut)
    certificate = fields.Nested(schemas.CertificateOut)


class ProposedOut(Form):
    """A lot whose clearance one person proposed."""

    lot = fields.Nested(LotOut)
    proposal = fields.Nested(schemas.ProposalOut)


@blueprint.route("/policies")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.PolicyOut))
def list_policies(asked: Mapping[str, Any]) -> Response:
    """List every version of every policy."""
    found = page(session(), queries.policies(), [Policy.code, Policy.number], asked)
    return listed(found, queries.policy_shape)


@blueprint.route("/policies", methods=["POST"])
@allow(OWNERS)
@blueprint.arguments(schemas.PolicyIn)
@blueprint.response(201, schemas.PolicyOut)
def add_policy(body: Mapping[str, Any]) -> Response:
    """Write the next version of a policy."""
    found = policies.add_policy(session(), act_from({}), body)
    return created(queries.policy_view(found), f"/policies/{found.code}/versions/{found.number}")


@blueprint.route("/policies/<code>/versions/<int:number>")
@allow(READERS)
@blueprint.response(200, schemas.PolicyOut)
def show_policy(code: str, number: int) -> Response:
    """Show one version of a policy."""
    return answer(queries.policy_view(policy(session(), code, number)))


@blueprint.route("/lots/<id:lot_id>/clearance")
@allow(READERS)
@blueprint.arguments(schemas.ClearanceQuery, location="query")
@blueprint.response(200, schemas.ClearanceOut)
def show_gates(asked: Mapping[str, Any], lot_id: str) -> Response:
    """Show the gates of a lot, judged afresh: why not yet, and when."""
    lot = lots.lot_by_id(session(), lot_id)
    found = judging.judge(session(), lot, g.now, policy(session(), asked["policy"]))
    return answer(judging.judged_view(session(), found, g.now))


@blueprint.route("/lots/<id:lot_id>/clearance", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.ClearanceIn)
@blueprint.response(201, ClearedOut)
@blueprint.alt_response(202, schema=ProposedOut)
def clear_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Decide that a lot may be sold; every gate must hold, or an owner overrides it with a reason.

    Under a policy of four eyes the first person's request is kept and answered 202; a second person's same
    request clears the lot.
    """
    lot = lot_for_change(session(), lot_id)
    match(lot, required=True)
    rules, act = policy(session(), body["policy"]), act_from(body)
    if body["overrides"] and caller().role != Role.OWNER:
        raise Forbidden("Only an owner may override a gate.")
    overrides = [Override(**override, by=act.by) for override in body["overrides"]]
    found = clear(session(), act, lot, rules, overrides)
    if isinstance(found, ClearanceProposal):
        shown = {"lot": lots.lot_view(session(), lot_id), "proposal": proposal_shape(found)}
        return answer(shown, 202, thing=lot)
    shown = {"lot": lots.lot_view(session(), lot_id), "certificate": _certificate(found.serial)}
    return created(shown, f"/certificates/{found.serial}", lot)


@blueprint.route("/lots/<id:lot_id>/certificates")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.CertificateOut))
def list_certificates_of_lot(asked: Mapping[str, Any], lot_id: str) -> Response:
    """List the certificates of a lot, the newest first."""
    lots.lot_by_id(session(), lot_id)
    return _listed(asked, lot_id)


@blueprint.route("/certificates")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.CertificateOut))
def list_certificates(asked: Mapping[str, Any]) -> Response:
    """List certificates, the newest first."""
    return _listed(asked, None)


@blueprint.route("/certificates/<serial>")
@allow(READERS)
@blueprint.response(200, schemas.CertificateOut)
def show_certificate(serial: str) -> Response:
    """Show a certificate."""
    return answer(_certificate(serial))


@blueprint.route("/certificates/<serial>.pdf")
@allow(READERS)
@blueprint.doc(**PDF)  # type: ignore[untyped-decorator]  # flask-smorest ships no types
@blueprint.response(200)
def print_certificate(serial: str) -> Response:
    """Print a certificate: a PDF with its QR code and the signed statement inside."""
    token = queries.certificate_by_serial(session(), serial).jws
    response = Response(statement_pdf(claims_of(token), token), content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="statement-{serial}.pdf"'
    return response


@blueprint.route("/certificates/<serial>/replay")
@allow(READERS)
@blueprint.response(200, schemas.ReplayOut)
def replay_decision(serial: str) -> Response:
    """Judge the decision behind a certificate again, from what it was judged by, and show what differs."""
    return answer(replaying.replay_view(session(), serial))


@blueprint.route("/certificates/<serial>/revocation", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.RevocationIn)
@blueprint.response(200, schemas.CertificateOut)
def revoke_certificate(body: Mapping[str, Any], serial: str) -> Response:
    """Take a certificate back; its lot goes back to quarantine."""
    act = act_from(body)
    lot = lot_for_change(session(), queries.certificate_by_serial(session(), serial).lot_id)
    certificate = queries.certificate_by_serial(session(), serial, lock=True)
    match(certificate)
    actions.revoke(session(), act, lot, certificate, body["reason"])
    return answer(_certificate(serial), thing=certificate)


def _certificate(serial: str) -> dict[str, Any]:
    return queries.certificate_view(session(), serial, g.now, settings().public_url)


def _listed(asked: Mapping[str, Any], lot_id: str | None) -> Response:
    key = [Certificate.issued_at, Certificate.id]
    wanted = queries.certificates()
    if lot_id is not None:
        wanted = wanted.where(Certificate.lot_id == lot_id)
    found = page(session(), wanted, key, asked, descending=True)
    return listed(found, lambda row: queries.certificate_shape(row, g.now, settings().public_url))

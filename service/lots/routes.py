"""Addresses of lots: the list, one lot, and what is done to it."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH, MANAGERS, READERS, STAFF
from service.core.errors import Invalid
from service.core.house import manner
from service.core.http import (
    Tag,
    allow,
    answer,
    answer_unless_held,
    connection,
    created,
    match,
    router,
    session,
)
from service.core.pages import listed, page_of, read_page
from service.journal.web import act_from, facts
from service.lots import actions, holds, moves, queries, schemas, sealing, units
from service.lots.models import Lot
from service.lots.periods import received_between
from service.tubs.queries import tub_by_id

blueprint = router("lots", "Lots and what is done to them.")


@blueprint.route("/lots")
@allow(READERS)
@blueprint.arguments(schemas.LotQuery, location="query")
@blueprint.response(200, page_of(schemas.ListedLotOut))
def list_lots(asked: Mapping[str, Any]) -> Response:
    """List lots, oldest receipt first."""
    wanted = received_between(asked, lambda: manner(session()).time_zone)
    return listed(read_page(connection(), queries.LOTS, asked, queries.lots_asked(wanted, g.now)))


@blueprint.route("/lots/<id:lot_id>")
@allow(READERS)
@blueprint.response(200, schemas.LotOut)
def show_lot(lot_id: str) -> Response:
    """Show a lot."""
    reader = connection()
    return answer_unless_held(
        lambda: Tag(*queries.lot_tag(reader, lot_id)), lambda: queries.lot_read(reader, lot_id)
    )


@blueprint.route("/lots/<id:lot_id>/moves", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.MoveIn)
@blueprint.response(200, schemas.LotOut)
def move_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Move a lot to another tub, or a cleared one back to quarantine."""
    act = act_from(body)
    lot = actions.lot_for_change(session(), lot_id, _tubs(body), since=act.at)
    match(lot)
    moves.move(session(), act, lot, **facts(body))
    return _shown(lot)


@blueprint.route("/tubs/<id:tub_id>/moves", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.MoveAllIn)
@blueprint.response(200, schemas.MovedOut)
def move_all_lots(body: Mapping[str, Any], tub_id: str) -> Response:
    """Move all lots of a tub to another in one act: all of them or none."""
    act, tub = act_from(body), tub_by_id(session(), tub_id)
    to = moves.named_tub(session(), body["to_tub_id"], "#/to_tub_id")
    if to is None or to is tub:
        raise Invalid.at("#/to_tub_id", "Name another tub.", code="same-tub")
    actions.lock_water_group(session(), [], [tub.id, to.id], since=act.at)
    moved = moves.move_all(session(), act, tub, to, share_water=body["share_water"])
    ids = [lot.id for lot in moved]
    return answer({"from_tub_id": tub.id, "to_tub_id": to.id, "lot_ids": ids})


@blueprint.route("/lots/<id:lot_id>/repack", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.RepackIn)
@blueprint.response(200, schemas.LotOut)
def repack_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Make other units of a lot's units, or correct a miscount."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot)
    units.repack(session(), act_from(body), lot, **facts(body))
    return _shown(lot)


@blueprint.route("/lots/<id:lot_id>/opening", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.OpeningIn)
@blueprint.response(200, schemas.LotOut)
def open_cups(body: Mapping[str, Any], lot_id: str) -> Response:
    """Open sealed cups: from then on they are ordinary plants, and no statement of theirs stands."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot)
    sealing.open_cups(session(), act_from(body), lot, **facts(body))
    return _shown(lot)


@blueprint.route("/lots/<id:lot_id>/splits", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.SplitIn)
@blueprint.response(201, schemas.LotOut)
def split_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Split a part off a lot; answers the new lot."""
    act = act_from(body)
    lot = actions.lot_for_change(session(), lot_id, _tubs(body), since=act.at)
    match(lot)
    child = units.split(session(), act, lot, **facts(body))
    return created(queries.lot_view(session(), child.id), f"/lots/{child.id}", child)


@blueprint.route("/lots/<id:lot_id>/losses", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.LossIn)
@blueprint.response(200, schemas.LotOut)
def lose_plants(body: Mapping[str, Any], lot_id: str) -> Response:
    """Write off plants that were lost."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot)
    units.lose(session(), act_from(body), lot, **facts(body))
    return _shown(lot)


@blueprint.route("/lots/<id:lot_id>/rejection", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.RejectionIn)
@blueprint.response(200, schemas.LotOut)
def reject_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Destroy or return all that is left of a lot."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot)
    units.reject(session(), act_from(body), lot, **facts(body))
    return _shown(lot)


@blueprint.route("/lots/<id:lot_id>/holds", methods=["POST"])
@allow(STAFF)
@blueprint.arguments(schemas.HoldIn)
@blueprint.response(201, schemas.HoldOut)
def hold_lot(body: Mapping[str, Any], lot_id: str) -> Response:
    """Put a lot on hold."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot)
    hold = holds.place_hold(session(), act_from(body), lot, **facts(body))
    shown = {name: getattr(hold, name) for name in ("id", "lot_id", "cause", "reason", "since")}
    return created(shown, f"/lots/{lot.id}/holds/{hold.id}", lot)


@blueprint.route("/lots/<id:lot_id>/holds/<id:hold_id>", methods=["DELETE"])
@allow(MANAGERS)
@blueprint.arguments(schemas.LiftQuery, location="query")
@blueprint.response(200, schemas.LotOut)
def lift_hold(asked: Mapping[str, Any], lot_id: str, hold_id: str) -> Response:
    """Lift a hold, saying why; If-Match takes the lot's ETag."""
    lot = actions.lot_for_change(session(), lot_id)
    match(lot, required=True)
    hold = queries.hold_by_id(session(), lot_id, hold_id)
    holds.lift_hold(session(), act_from({}), lot, hold, reason=asked["reason"])
    return _shown(lot)


def _shown(lot: Lot) -> Response:
    return answer(queries.lot_view(session(), lot.id), thing=lot)


def _tubs(body: Mapping[str, Any]) -> list[str]:
    return [body["tub_id"]] if body["tub_id"] else []

"""Whose promises and dispatches a shop may see: its own.

A shop is known by the name of its token, so that a new token of that name goes on where the old one ended.
People of the house see those of every shop.
"""

from typing import Any

from sqlalchemy import Select, String, cast, or_, select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.rules import Role
from service.core.ids import is_id
from service.sales.models import Dispatch, Fulfilment, Reservation, ReservationLine


def is_anothers(session: Session, made_by: str, asked_by: str) -> bool:
    """Whether what `made_by` made is none of the business of `asked_by` (ids as the journal has them)."""
    if made_by == asked_by:
        return False
    shop = _shop_of(session, asked_by)
    return shop is not None and _shop_of(session, made_by) != shop


def promises_of(shop: str) -> Select[Any]:
    """The ids of what was promised to a shop."""
    return select(Reservation.id).where(Reservation.by.in_(_tokens(shop)))


def dispatches_of(shop: str) -> Select[Any]:
    """The ids of what a shop sent, and of what the house sent of its promises."""
    kept = (
        select(Fulfilment.dispatch_id)
        .join(ReservationLine, ReservationLine.id == Fulfilment.reservation_line_id)
        .join(Reservation, Reservation.id == ReservationLine.reservation_id)
        .where(Reservation.by.in_(_tokens(shop)))
    )
    return select(Dispatch.id).where(or_(Dispatch.by.in_(_tokens(shop)), Dispatch.id.in_(kept)))


def _tokens(shop: str) -> Select[Any]:
    # As text: who acts is a text in the journal, for commands act too.
    return select(cast(Token.id, String)).where(Token.role == Role.SHOP.value, Token.name == shop)


def _shop_of(session: Session, actor: str) -> str | None:
    if not is_id(actor):  # the name of a command
        return None
    return session.scalar(select(Token.name).where(Token.id == actor, Token.role == Role.SHOP.value))

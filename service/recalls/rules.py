"""What recalls and complaints still owe, and whether they may be ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.reasons import Reason

LOOK_WITHIN = timedelta(hours=24)
LAST_LOTS, WARN_FROM = 10, 3  # of a supplier: so many infested of the last lots warn at ordering
TELL_WITHIN = timedelta(hours=24)  # assumed: as soon as the plants are looked at


class Origin(StrEnum):
    """What a recall starts from."""

    LOT = "lot"
    FIND = "find"
    COMPLAINT = "complaint"
    BATCH = "batch"
    SUPPLIER = "supplier"


class NoticeWay(StrEnum):
    """How a customer was told."""

    PHONE = "phone"
    MAIL = "mail"
    LETTER = "letter"
    IN_PERSON = "in_person"


class Verdict(StrEnum):
    """Whose pest a customer found."""

    OURS = "ours"
    NOT_OURS = "not_ours"
    UNKNOWN = "unknown"


class Settlement(StrEnum):
    """What the customer got for it."""

    NONE = "none"
    REFUND = "refund"
    REPLACE = "replace"
    CREDIT = "credit"


@dataclass(frozen=True)
class LotProgress:
    """A lot of a recall or a complaint: `ended` when nothing of it is left; the first look at it since."""

    lot_id: str
    code: str
    ended: bool
    looked_at: datetime | None

    @property
    def owes_look(self) -> bool:
        """True while plants are left that nobody has looked at since."""
        return not self.ended and self.looked_at is None


@dataclass(frozen=True)
class CustomerProgress:
    """A dispatch of a recall, and when its customer was told."""

    dispatch_id: str
    told_at: datetime | None


def closing_reasons(
    *, closed: bool, grown: int, lots: Sequence[LotProgress], customers: Sequence[CustomerProgress]
) -> list[Reason]:
    """Why a recall may not be closed: nothing new within reach, every lot looked at, every customer told."""
    if closed:
        return [Reason("recall-closed", "This recall is closed already.")]
    owed = _looks_owed(lots, "the recall")
    untold = [
        Reason("customer-not-told", "A customer was not told yet.", "a notice", customer.dispatch_id)
        for customer in customers
        if customer.told_at is None
    ]
    return _reach_grown(grown) + owed + untold


def notice_reasons(*, closed: bool, told: bool) -> list[Reason]:
    """Why a notice may not be written."""
    if closed:
        return [Reason("recall-closed", "This recall is closed.")]
    return [Reason("told-already", "This customer was told already.")] if told else []


def known_reasons(known: str | None) -> list[Reason]:
    """Why a complaint must be confirmed: one of the same pest against the same thing is not judged yet."""
    if known is None:
        return []
    detail = (
        f"The same was complained of already and is not judged yet: complaint {known}."
        " If this is another one, send confirm_duplicate: true."
    )
    return [Reason("complaint-known", detail, "confirm_duplicate", known)]


def verdict_reasons(*, judged: bool, verdict: Verdict, lots: Sequence[LotProgress]) -> list[Reason]:
    """Why a complaint may not be judged so: once; "not ours" only after the plants left were looked at."""
    if judged:
        return [Reason("judged-already", "This complaint was judged already.")]
    return _looks_owed(lots, "the complaint") if verdict is Verdict.NOT_OURS else []


def _reach_grown(grown: int) -> list[Reason]:
    if not grown:
        return []
    detail = f"By facts entered since, {grown} lots are newly within reach: extend the recall first."
    return [Reason("reach-grown", detail, 0, grown)]


def _looks_owed(lots: Sequence[LotProgress], since: str) -> list[Reason]:
    return [
        Reason("look-owed", f"Lot {lot.code} was not looked at since {since}.", "a look", lot.code)
        for lot in lots
        if lot.owes_look
    ]


def supplier_warning(infested: int, of: int) -> str | None:
    """What to say before ordering from a supplier whose last lots came infested so often."""
    if infested < WARN_FROM:
        return None
    return f"{infested} of the last {of} lots of this supplier came with pests. Think before you order."

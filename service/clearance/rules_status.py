"""The status of a certificate on a day, until when it is good, and when a policy makes no sense."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from service.core.reasons import Reason
from service.reference.policies import Policy


def good_until(
    expires_at: datetime, looks: Sequence[datetime], cleared_at: datetime, again_after: timedelta
) -> datetime:
    """Until when a cleared lot is good: its certificate runs, its last look is not `again_after` old.

    `looks` are the clean looks that take in enough. Without any (all were voided) it is good no longer.
    """
    return min(expires_at, max(looks) + again_after) if looks else cleared_at


def speaking(
    looks: Sequence[datetime], overrides: Sequence[Mapping[str, Any]], decided_at: datetime
) -> list[datetime]:
    """The moments from which a lot is good for a while: its looks, or the decision that did without them."""
    without = any(override["gate"] == "clean_inspections" for override in overrides)
    return [*looks, decided_at] if without else list(looks)


def status_of(stored: str, good_until: datetime, now: datetime, *, held: bool) -> str:
    """valid, suspended (a hold is open), expired (ran out, or a look was missed), revoked or superseded."""
    if stored != "valid":
        return stored
    if good_until <= now:
        return "expired"
    return "suspended" if held else "valid"


def meaning(status: str, since: datetime) -> str:
    """What a status means for whoever holds the plants, in plain words."""
    moment = f"{since:%Y-%m-%d %H:%M} UTC"
    return {
        "valid": "This statement stands today.",
        "suspended": "The plants are on hold while the seller looks into something; this statement does not "
        "stand for the time being. Keep such plants by themselves until it does again.",
        "revoked": f"The seller took this statement back; it has not stood since {moment}. "
        "Keep such plants by themselves and ask the seller.",
        "superseded": f"Another statement stands in its place; this one has not stood since {moment}.",
        "expired": f"Its time is over; it has not stood since {moment}. It says nothing of later days.",
    }[status]


def policy_reasons(policy: Policy, pests: Collection[str]) -> list[Reason]:
    """Figures of a policy that no plan or calculation can be made with; reasons carry pointers."""
    unknown = sorted(set(policy.scope.pests) - set(pests))
    found = [
        _reason("scope/pests", f"There is no pest {', '.join(unknown)}.", wrong=bool(unknown)),
        _reason("scope/pests", "Name at least one pest.", wrong=not policy.scope.pests),
        _reason(
            "sampling/confidence",
            "Must lie between 0 and 1, both excluded.",
            wrong=not 0 < policy.sampling.confidence < 1,
        ),
        _reason(
            "sampling/detection_level", "Must be above 0.", wrong=not policy.sampling.detection_level > 0
        ),
        _reason(
            "sampling/eyes_sensitivity", "Must be above 0.", wrong=not policy.sampling.eyes_sensitivity > 0
        ),
        _reason("hatch/factor_treated", "Must be 1 or more.", wrong=policy.hatch.factor_treated < 1),
        _reason(
            "hatch/factor_untreated",
            "Must not be less than factor_treated.",
            wrong=policy.hatch.factor_untreated < policy.hatch.factor_treated,
        ),
    ]
    return [reason for reason in found if reason is not None]


def _reason(where: str, detail: str, *, wrong: bool) -> Reason | None:
    return Reason("validation", detail, pointer=f"#/{where}") if wrong else None

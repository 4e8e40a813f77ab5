"""The status of a certificate on a day, and when a policy makes no sense."""

from collections.abc import Collection
from datetime import datetime

from service.core.reasons import Reason
from service.reference.policies import Policy


def status_of(stored: str, expires_at: datetime, now: datetime, *, held: bool) -> str:
    """valid, suspended (a hold is open), expired, revoked or superseded."""
    if stored != "valid":
        return stored
    if expires_at <= now:
        return "expired"
    return "suspended" if held else "valid"


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

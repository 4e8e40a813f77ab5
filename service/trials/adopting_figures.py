"""Taking refitted thresholds of eggs over, as the house's own figures that the quarantine clock uses."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from service.catalogue.own_figures import lock_pests, published_development, set_development
from service.catalogue.rules import development
from service.core.errors import Invalid, Refused
from service.journal.acts import Act
from service.science.development import Development
from service.trials.gathering import Result
from service.trials.hatch_dates import against
from service.trials.rules_development import Fitted, refitted, shortest_share

OWN_TRIAL = "own trial"


def learn_development(
    session: Session, act: Act, result: Result, asked: Sequence[str]
) -> list[dict[str, Any]]:
    """Put the fits of these pests in force; lots decided before keep what they were judged by.

    Raises Invalid for a pest without a fit, Refused with every rule that a fit breaks.
    """
    locked = lock_pests(session) if asked else {}
    found = []
    for place, pest in enumerate(dict.fromkeys(asked)):
        fit = next((one for one in result.fits if one.pest == pest), None)
        if fit is None:
            detail = "No egg mass of it was seen laid and hatched in a trial."
            raise Invalid.at(f"#/development/{place}", detail, code="not-shown")
        reasons = against(session, fit)
        Refused.unless_empty(reasons[0].code if reasons else "", reasons)
        told = published_development(locked[pest])
        own = refitted(fit, development(pest, told))
        row = set_development(session, act, locked[pest], _document(own, told, _source(fit, act)))
        found.append(_view(fit, own, told, int(row.house_number or 0)))
    return found


def _source(fit: Fitted, act: Act) -> str:
    celsius = [mass.celsius or 0.0 for mass in fit.masses]
    return (
        f"Own trials to {act.at:%Y-%m-%d}: {len(fit.masses)} egg masses of {_trials(fit)} trials, seen laid "
        f"and hatched at {min(celsius):.1f} to {max(celsius):.1f} °C"
    )


def _trials(fit: Fitted) -> int:
    return len({mass.trial_id for mass in fit.masses})


def _document(own: Development, published: Mapping[str, Any], source: str) -> dict[str, Any]:
    """The development as a document of the catalogue; heat limits as published."""
    low, high = own.lower_threshold_range or (own.lower_threshold_c, own.lower_threshold_c)
    told = {"source": source, "grade": OWN_TRIAL}
    return {
        **published,
        "lower_threshold_c": own.lower_threshold_c,
        "thermal_constant_dd": own.thermal_constant_dd,
        "anchor_days": own.anchor_days,
        "anchor_c": own.anchor_c,
        "threshold_range": {"low_c": low, "high_c": high, **told},
        **told,
    }


def _view(fit: Fitted, own: Development, published: Mapping[str, Any], number: int) -> dict[str, Any]:
    same = ("lower_threshold_c", "thermal_constant_dd")
    low, high = own.lower_threshold_range or (own.lower_threshold_c, own.lower_threshold_c)
    return {
        "pest": fit.pest,
        "house_number": number,
        **{name: getattr(own, name) for name in same},
        "lower_threshold_range": {"low_c": low, "high_c": high},
        "masses": len(fit.masses),
        "trials": _trials(fit),
        "share_of_published_wait": shortest_share(own, development(fit.pest, published)),
        "published": {name: published[name] for name in same},
    }

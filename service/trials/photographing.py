"""Photos of an observation that come after it, or were wrong: what it told does not change."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.photos.actions import add_photos, void_photo
from service.photos.rules import MOST_OF_ONE_OBSERVATION as MOST
from service.trials import queries
from service.trials import rules_observation as rules
from service.trials.models import Trial, TrialObservation
from service.trials.observing import refuse_closed
from service.trials.queries import Layout


def photograph(
    session: Session,
    act: Act,
    found: tuple[Trial, Layout],
    observation: TrialObservation,
    told: Sequence[Mapping[str, Any]],
) -> None:
    """Add photos that are kept to an observation that was made; what it told does not change.

    Raises Invalid when one is not kept or is of nothing in the trial, Refused when it is void.
    """
    trial, layout = found
    refuse_closed(trial)
    if observation.voided_at is not None:
        raise Refused("voided-already", "This observation is void: enter the right one, with its photos.")
    not_before(act.at, observation.at, "the observation")
    reasons = rules.photo_reasons(told, queries.places_of(session, layout))
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    kept = add_photos(session, act, observation.id, told, most=MOST)
    after = {"observation_id": observation.id, "day": observation.day, "photos": kept}
    record(session, act, "trial.photographed", [trial], after=after)


def void_photo_of_observation(
    session: Session,
    act: Act,
    trial: Trial,
    observation: TrialObservation,
    told: Mapping[str, Any],
) -> None:
    """Hide a photo of an observation that is wrong, with the reason; a closed trial's too.

    Raises as `void_photo`. What the observation told does not change.
    """
    void_photo(session, act, observation.id, told)
    after = {"observation_id": observation.id, "day": observation.day, **told}
    record(session, act, "trial.photo_voided", [trial], after=after)

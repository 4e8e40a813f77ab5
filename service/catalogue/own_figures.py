"""The house's own figures of a pest's development, beside what the reference data says."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.catalogue.adoption import supersede
from service.catalogue.models import Pest
from service.journal.actions import record
from service.journal.acts import Act


def lock_pests(session: Session) -> dict[str, Pest]:
    """The present row of every pest, locked in order of code: one after the other changes figures."""
    wanted = select(Pest).where(Pest.superseded_at.is_(None)).order_by(Pest.code)
    locked = wanted.with_for_update().execution_options(populate_existing=True)
    return {pest.code: pest for pest in session.scalars(locked)}


def published_development(pest: Pest) -> Any:
    """What the reference data says of its development, whether or not it is in force."""
    return pest.figures["development"] if pest.house_number is None else pest.published


def set_development(session: Session, act: Act, before: Pest, development: Mapping[str, Any]) -> Pest:
    """Put the house's own development in the place of a locked pest's; the row before stays as it was."""
    newest = session.scalar(select(func.max(Pest.house_number))) or 0
    pest = Pest(
        code=before.code,
        reference_version=before.reference_version,
        regulated=before.regulated,
        figures={**before.figures, "development": dict(development)},
        published=published_development(before),
        house_number=newest + 1,
    )
    supersede(session, act, before, pest)
    after = {"code": pest.code, "house_number": pest.house_number, "development": dict(development)}
    was = {"house_number": before.house_number, "development": before.figures["development"]}
    record(session, act, "pest.development_learnt", [pest], before=was, after=after)
    return pest

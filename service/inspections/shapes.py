"""The shape of a look as answered."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service.inspections.models import Inspection
from service.inspections.rules import Find

INSPECTION = (
    "id",
    "lot_id",
    "tub_id",
    "at",
    "method",
    "sample_size",
    "sample_unit",
    "lot_size",
    "strata",
    "full",
    "clean",
    "inspector",
    "note",
    "recorded_at",
    "by",
    "voided_at",
    "voided_by",
    "void_reason",
)


Photos = Mapping[str, Sequence[Mapping[str, Any]]]


def inspection_shape(
    row: Sequence[Any], findings: Mapping[str, Iterable[Find]], photos: Photos
) -> dict[str, Any]:
    """A look as answered, with its findings and photos."""
    shown = dict(zip(INSPECTION, row, strict=True))
    found = [vars(find) for find in findings.get(shown["id"], ())]
    return {**shown, "findings": found, "photos": photos.get(shown["id"], ())}


def inspection_view(
    inspection: Inspection, findings: Mapping[str, Iterable[Find]], photos: Photos
) -> dict[str, Any]:
    """One look as answered."""
    return inspection_shape([getattr(inspection, name) for name in INSPECTION], findings, photos)

"""Reading photos: one by its hash, and those of looks and observations."""

from collections.abc import Collection, Mapping
from typing import Any

from sqlalchemy import Select, exists, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.photos.models import Photo, PhotoOf

PHOTO = ("sha256", "media_type", "bytes", "width", "height")
COLUMNS = tuple(getattr(Photo, name) for name in PHOTO)


def photo_by_hash(session: Session, sha256: str) -> Photo:
    """One photo by the hash of what is kept; raises NotFound."""
    found = session.scalars(select(Photo).where(Photo.sha256 == sha256)).one_or_none()
    if found is None:
        raise NotFound("photo")
    return found


def photos_named(session: Session, hashes: Collection[str]) -> dict[str, Photo]:
    """Photos by the hash they are named with: of what is kept, or of the file as it was sent."""
    if not hashes:
        return {}
    asked = select(Photo).where(Photo.sha256.in_(hashes) | Photo.sent_sha256.in_(hashes)).order_by(Photo.id)
    found = session.scalars(asked.with_for_update()).all()
    return {photo.sent_sha256: photo for photo in found} | {photo.sha256: photo for photo in found}


def photos_of(session: Session, about_ids: Collection[str]) -> dict[str, list[dict[str, Any]]]:
    """The photos of looks or observations as answered, in the order they were added; one statement."""
    found: dict[str, list[dict[str, Any]]] = {about_id: [] for about_id in about_ids}
    if not found:
        return found
    asked = (
        select(PhotoOf.about_id, PhotoOf.label, *COLUMNS)
        .join(Photo, Photo.id == PhotoOf.photo_id)
        .where(PhotoOf.about_id.in_(about_ids))
        .order_by(PhotoOf.id)
    )
    for about_id, label, *rest in session.execute(asked):
        found[about_id].append(shape(rest, label or None))
    return found


def shape(row: Collection[Any], label: str | None = None) -> dict[str, Any]:
    """A photo as answered."""
    shown: Mapping[str, Any] = dict(zip(PHOTO, row, strict=True))
    return {**shown, "label": label, "address": f"/api/v1/photos/{shown['sha256']}"}


def view(photo: Photo) -> dict[str, Any]:
    """One photo as answered."""
    return shape([getattr(photo, name) for name in PHOTO])


def unused() -> Select[Photo]:
    """Photos that no look and no observation names."""
    return select(Photo).where(~exists().where(PhotoOf.photo_id == Photo.id))

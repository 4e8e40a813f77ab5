"""Reading photos: one by its hash, and those of looks, observations and shipments."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Select, exists, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.photos.models import Photo, PhotoOf

PHOTO = ("sha256", "media_type", "bytes", "width", "height")
COLUMNS = tuple(getattr(Photo, name) for name in PHOTO)
VOID = ("voided_at", "voided_by", "void_reason")
VOIDS = tuple(getattr(PhotoOf, name) for name in VOID)


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
    """The photos of things as answered, void ones too, in the order they were added; one statement."""
    found: dict[str, list[dict[str, Any]]] = {about_id: [] for about_id in about_ids}
    if not found:
        return found
    asked = (
        select(PhotoOf.about_id, PhotoOf.label, *COLUMNS, *VOIDS)
        .join(Photo, Photo.id == PhotoOf.photo_id)
        .where(PhotoOf.about_id.in_(about_ids))
        .order_by(PhotoOf.id)
    )
    for about_id, label, *rest in session.execute(asked):
        found[about_id].append(shape(rest, label or None))
    return found


def uses(session: Session, about_id: str, sha256: str, label: str | None) -> list[PhotoOf]:
    """Where a photo is of a thing, of one label or of any; raises NotFound when it is nowhere."""
    asked = (
        select(PhotoOf)
        .join(Photo, Photo.id == PhotoOf.photo_id)
        .where(PhotoOf.about_id == about_id, Photo.sha256 == sha256)
        .order_by(PhotoOf.id)
    )
    found = session.scalars(asked if label is None else asked.where(PhotoOf.label == label)).all()
    if not found:
        raise NotFound("photo of it")
    return list(found)


def is_hidden(session: Session, photo_id: str) -> bool:
    """True when a photo is of something, and void wherever it is."""
    void = session.scalars(select(PhotoOf.voided_at.is_not(None)).where(PhotoOf.photo_id == photo_id)).all()
    return bool(void) and all(void)


def shape(row: Sequence[Any], label: str | None = None) -> dict[str, Any]:
    """A photo as answered."""
    shown: Mapping[str, Any] = dict(zip((*PHOTO, *VOID), row, strict=True))
    return {**shown, "label": label, "address": f"/api/v1/photos/{shown['sha256']}"}


def view(photo: Photo) -> dict[str, Any]:
    """One photo as answered."""
    return shape([*(getattr(photo, name) for name in PHOTO), *(None for _ in VOID)])


def unused() -> Select[Photo]:
    """Photos that nothing names."""
    return select(Photo).where(~exists().where(PhotoOf.photo_id == Photo.id))

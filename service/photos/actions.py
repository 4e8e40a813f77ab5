"""Keeping photos, saying what they are of, and the round of the night that removes what is of nothing."""

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, cast

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.core.reasons import Reason
from service.journal.actions import record
from service.journal.acts import Act
from service.photos.drawing import NoPhoto, drawn_anew, drawn_small
from service.photos.folder import PHOTOS, Folder
from service.photos.models import Photo, PhotoOf
from service.photos.queries import photos_named, photos_of, unused
from service.photos.rules import MOST_OF_ONE_LOOK

SWEEP = "sweep_photos"
UNUSED_KEPT = timedelta(days=7)  # a form may lie open over a weekend
FILE_KEPT = timedelta(days=1)  # a file is written before its row is


def folder_of(session: Session) -> Folder:
    """The folder of photos of this house."""
    return cast(Folder, session.info[PHOTOS])


def keep_photo(session: Session, act: Act, content: bytes) -> Photo:
    """Keep a photo, drawn anew; the same picture twice is one photo. Raises Invalid when it is none.

    The file is written first, so that no row is without its file; one whose row was not kept goes at night.
    """
    try:
        drawn = drawn_anew(content)
    except NoPhoto as problem:
        raise Invalid.at("#", problem.detail, code=problem.code) from problem
    sha256 = hashlib.sha256(drawn.content).hexdigest()
    folder_of(session).put(sha256, drawn.media_type, drawn.content)
    earlier = session.scalars(select(Photo).where(Photo.sha256 == sha256)).one_or_none()
    if earlier is not None:
        return earlier
    photo = Photo(
        sha256=sha256,
        sent_sha256=hashlib.sha256(content).hexdigest(),
        media_type=drawn.media_type,
        bytes=len(drawn.content),
        width=drawn.width,
        height=drawn.height,
        recorded_at=act.now,
        by=act.by,
    )
    session.add(photo)
    record(session, act, "photo.kept", [photo], after={"sha256": sha256, "bytes": photo.bytes})
    return photo


def content_of(session: Session, photo: Photo, *, small: bool) -> bytes | None:
    """What is kept of a photo, None when its file is lost; the small one is made when first asked for."""
    folder = folder_of(session)
    if small and (found := folder.small(photo.sha256)) is not None:
        return found
    content = folder.get(photo.sha256, photo.media_type)
    if content is None or not small:
        return content
    shrunk = drawn_small(content)
    folder.put_small(photo.sha256, shrunk)
    return shrunk


def add_photos(
    session: Session,
    act: Act,
    about_id: str,
    told: Sequence[Mapping[str, Any]],
    *,
    most: int = MOST_OF_ONE_LOOK,
    strict: bool = True,
) -> list[str]:
    """Say that photos are of a look or an observation; gives the hashes of what is kept.

    `told`: sha256 (of what is kept, or of the file as sent) and label. One that is of it already is passed
    over. Raises Invalid naming those that are not kept (unless not `strict`: they stay mere names), Refused
    when there would be more than `most`.
    """
    known = photos_named(session, {row["sha256"] for row in told})
    reasons = [
        Reason("unknown-photo", "No such photo is kept: send it to /photos first.", pointer=f"#/photos/{n}")
        for n, row in enumerate(told)
        if row["sha256"] not in known
    ]
    if reasons and strict:
        raise Invalid("unknown-photo", reasons[0].detail, reasons)
    there = photos_of(session, [about_id])[about_id]
    seen = {(row["sha256"], row["label"] or "") for row in there}
    for row in told:
        photo, label = known.get(row["sha256"]), row.get("label") or ""
        if photo is None or (photo.sha256, label) in seen:
            continue
        seen.add((photo.sha256, label))
        session.add(PhotoOf(about_id=about_id, photo_id=photo.id, label=label, at=act.at, by=act.by))
    if len(seen) > most:
        raise Refused("too-many-photos", f"One look has at most {most} photos.")
    session.flush()
    return sorted(sha256 for sha256, _ in seen)


def sweep_photos(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job of the night: forget photos that were sent and named by nothing for a week, then their files.

    A file goes the night after its row, when that is certain to be gone; so do files whose row never was.
    """
    kept = set(session.scalars(select(Photo.sha256)))
    folder_of(session).sweep(kept, now - FILE_KEPT)
    old = unused().where(Photo.recorded_at < now - UNUSED_KEPT).with_only_columns(Photo.id)
    session.execute(delete(Photo).where(Photo.id.in_(old)))


def lost_photos(session: Session) -> list[str]:
    """The hashes of photos whose file is not in the folder, or has another length."""
    folder = folder_of(session)
    rows = session.execute(select(Photo.sha256, Photo.media_type, Photo.bytes).order_by(Photo.id))
    return [sha256 for sha256, media_type, size in rows if folder.size(sha256, media_type) != size]


COUNT = select(func.count()).select_from(Photo)

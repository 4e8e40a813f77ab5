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
from service.photos.drawing import Drawn, NoPhoto, drawn_anew, drawn_small
from service.photos.folder import PHOTOS, Folder
from service.photos.models import Photo, PhotoOf
from service.photos.queries import photos_named, photos_of, unused, uses
from service.photos.rules import MOST_OF_ONE_LOOK, PDF, is_pdf, pdf_problem

SWEEP = "sweep_photos"
UNUSED_KEPT = timedelta(days=7)  # a form may lie open over a weekend
FILE_KEPT = timedelta(days=1)  # a file is written before its row is


def folder_of(session: Session) -> Folder:
    """The folder of photos of this house."""
    return cast(Folder, session.info[PHOTOS])


def keep_photo(session: Session, act: Act, content: bytes) -> Photo:
    """Keep a photo, drawn anew; the same picture twice is one photo. Raises Invalid when it is none.

    The file is written first, so that no row is without its file; one whose row was not kept goes at night.
    A paper as PDF is kept as it came.
    """
    drawn = _paper(content) if is_pdf(content) else _picture(content)
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


def _picture(content: bytes) -> Drawn:
    try:
        return drawn_anew(content)
    except NoPhoto as problem:
        raise Invalid.at("#", problem.detail, code=problem.code) from problem


def _paper(content: bytes) -> Drawn:
    problem = pdf_problem(content)
    if problem is not None:
        raise Invalid.at("#", problem, code="paper-damaged")
    return Drawn(content, PDF, None, None)


def content_of(session: Session, photo: Photo, *, small: bool) -> bytes | None:
    """What is kept of a photo, None when its file is lost; the small one is made when first asked for.

    Of a paper as PDF there is no small one.
    """
    folder = folder_of(session)
    if small and (found := folder.small(photo.sha256)) is not None:
        return found
    content = folder.get(photo.sha256, photo.media_type)
    if content is None or not small or photo.media_type == PDF:
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
    papers: bool = False,
) -> list[str]:
    """Say that photos are of a look, an observation or a shipment; gives the hashes of what is of it then.

    `told`: sha256 (of what is kept, or of the file as sent) and label. One that is of it already is passed
    over, one that was void is shown again. Raises Invalid naming those that are not kept (unless not
    `strict`: they stay mere names) or are PDF (unless `papers`), Refused for more than `most`.
    """
    known = photos_named(session, {row["sha256"] for row in told})
    reasons = _reasons(known, told, strict=strict, papers=papers)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    there = session.scalars(select(PhotoOf).where(PhotoOf.about_id == about_id)).all()
    seen = {(use.photo_id, use.label): use for use in there}
    for row in told:
        photo, label = known.get(row["sha256"]), row.get("label") or ""
        if photo is None:
            continue
        use = seen.get((photo.id, label))
        if use is None:
            use = PhotoOf(about_id=about_id, photo_id=photo.id, label=label, at=act.at, by=act.by)
            seen[photo.id, label] = use
            session.add(use)
        use.voided_at = use.voided_by = use.void_reason = None
    session.flush()
    shown = [row for row in photos_of(session, [about_id])[about_id] if row["voided_at"] is None]
    if len(shown) > most:
        raise Refused("too-many-photos", f"Here are at most {most} photos.")
    return sorted(row["sha256"] for row in shown)


def void_photo(session: Session, act: Act, about_id: str, told: Mapping[str, Any]) -> None:
    """Hide a photo that is wrong, with who and why; adding it again shows it again. Nothing is removed.

    `told`: sha256, reason and label (None: wherever it is of this). Raises NotFound when it is not, Refused
    when it is void already. The caller writes the journal.
    """
    found = [use for use in uses(session, about_id, told["sha256"], told["label"]) if use.voided_at is None]
    if not found:
        raise Refused("already-voided", "This photo is void already.")
    for use in found:
        use.voided_at, use.voided_by, use.void_reason = act.at, act.by, told["reason"]
    session.flush()


def _reasons(
    known: Mapping[str, Photo], told: Sequence[Mapping[str, Any]], *, strict: bool, papers: bool
) -> list[Reason]:
    found = []
    for n, row in enumerate(told):
        photo, pointer = known.get(row["sha256"]), f"#/photos/{n}"
        if photo is None and strict:
            detail = "No such photo is kept: send it to /photos first."
            found.append(Reason("unknown-photo", detail, pointer=pointer))
        elif photo is not None and photo.media_type == PDF and not papers:
            found.append(Reason("no-photo", "This is a paper. Name a picture here.", pointer=pointer))
    return found


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

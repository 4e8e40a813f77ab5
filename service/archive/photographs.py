"""The photos of an archive: each is what its name says, and none is there that no row names."""

import hashlib
import zipfile
from collections.abc import Callable

import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.archive.rules import Manifest, Unfit, photo_file
from service.photos.actions import folder_of
from service.photos.rules import ENDINGS, LARGEST_PIXELS

LARGEST = LARGEST_PIXELS * 4  # bytes: a photo drawn anew can be larger than what was sent, never than this
MEDIA_TYPES = {ending: media_type for media_type, ending in ENDINGS.items()}


def put_photos(
    session: Session,
    archive: zipfile.ZipFile,
    manifest: Manifest,
    progress: Callable[[str, int, int], None],
) -> None:
    """Put the photos of an archive into the folder of this house; raises Unfit.

    Files of an archive that is refused afterwards belong to no row, and go at night.
    """
    if "photo" not in {part.name for part in manifest.tables}:  # it is older than photos
        return
    rows = session.connection().execute(sa.text("SELECT sha256, media_type FROM photo"))
    if {f"{sha256}.{ENDINGS[kind]}" for sha256, kind in rows} != {*manifest.photos, *manifest.photos_lost}:
        raise Unfit("altered", "The photos of the archive are not those that its rows name.")
    folder = folder_of(session)
    for done, name in enumerate(manifest.photos, 1):
        sha256, _, ending = name.partition(".")
        with archive.open(photo_file(name)) as file:
            content = file.read(LARGEST + 1)
        if hashlib.sha256(content).hexdigest() != sha256:
            raise Unfit("altered", f"The photo {name} is not what its name says.")
        folder.put(sha256, MEDIA_TYPES[ending], content)
        progress("photos", done, len(manifest.photos))

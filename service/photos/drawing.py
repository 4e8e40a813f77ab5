"""Drawing a photo anew: only what can be seen of it is kept, nothing else that was in the file."""

import io
import struct
from dataclasses import dataclass

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from service.photos import rules

SORTS = ("JPEG", "PNG", "WEBP")  # of several pictures in one file (a phone's depth map) the first is kept
QUALITY = 90
UNREADABLE = (OSError, SyntaxError, ValueError, EOFError, struct.error, OverflowError, MemoryError)
TOO_LARGE = (Image.DecompressionBombError, Image.DecompressionBombWarning)


class NoPhoto(Exception):
    """This is no picture that is taken; the message says why and what to do. `code` names the kind."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


@dataclass(frozen=True)
class Drawn:
    """A picture as it is kept: its bytes, what they are, its size in points (a PDF has none)."""

    content: bytes
    media_type: str
    width: int | None
    height: int | None


def drawn_anew(content: bytes) -> Drawn:
    """The picture upright, in sRGB, without metadata: place, time, device, comments, what hangs behind it.

    A PNG stays one, anything else becomes a JPEG. The sort is told by the content, never by a name; the
    size is judged before a point is unpacked (CWE-409). Raises NoPhoto.
    """
    if len(content) > rules.LARGEST_BYTES:
        raise NoPhoto("photo-too-large", f"At most {rules.LARGEST_BYTES // 1024**2} MB are taken.")
    try:
        with Image.open(io.BytesIO(content), formats=SORTS) as found:
            problem = rules.size_problem(*found.size)
            if problem is not None:
                raise NoPhoto("photo-too-large", problem)
            png = found.format == "PNG"
            upright = ImageOps.exif_transpose(_in_srgb(found))
            return _written(_flat(upright), png=png)
    except TOO_LARGE as problem_:
        raise NoPhoto("photo-too-large", "The picture is far too large. Make it smaller.") from problem_
    except UnidentifiedImageError as problem_:
        raise NoPhoto("no-photo", f"This is no picture that is known here. {rules.SORTS}") from problem_
    except UNREADABLE as problem_:
        detail = f"The picture is damaged or not whole. Take it or save it anew. {rules.SORTS}"
        raise NoPhoto("photo-damaged", detail) from problem_


def drawn_small(content: bytes) -> bytes:
    """A small JPEG of a picture that is kept, for pages."""
    with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as found:
        found.draft("RGB", (rules.SMALL_EDGE, rules.SMALL_EDGE))
        shrunk = found.convert("RGB")
        shrunk.thumbnail((rules.SMALL_EDGE, rules.SMALL_EDGE))
        return _written(shrunk, png=False).content


def _in_srgb(found: Image.Image) -> Image.Image:
    profile = found.info.get("icc_profile")
    if not profile or found.mode not in {"RGB", "L"}:
        return found
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        seen = ImageCms.profileToProfile(found, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError):  # a profile that is no good: the colours as they stand
        return found
    return found if seen is None else seen


def _flat(found: Image.Image) -> Image.Image:
    """Without transparency, on white: what could be seen is what is kept."""
    if found.mode in {"RGBA", "LA", "PA"} or "transparency" in found.info:
        over = found.convert("RGBA")
        white = Image.new("RGBA", over.size, "white")
        return Image.alpha_composite(white, over).convert("RGB")
    return found.convert("L" if found.mode in {"1", "L", "I;16"} else "RGB")


def _written(found: Image.Image, *, png: bool) -> Drawn:
    out = io.BytesIO()
    bare = Image.frombytes(found.mode, found.size, found.tobytes())  # nothing of `info` comes along
    if png:
        bare.save(out, "PNG", optimize=False)
    else:
        bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Drawn(out.getvalue(), "image/png" if png else "image/jpeg", *found.size)

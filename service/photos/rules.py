"""What a photo may be, and how it is named where it is kept."""

import re

LARGEST_BYTES = 16 * 1024 * 1024  # as sent; a phone's picture has 2 to 8 MB
LARGEST_PIXELS = 50_000_000  # own limit: drawn anew it takes some 3 bytes each, 150 MB, for a second
LARGEST_EDGE = 16_384
SMALL_EDGE = 480  # of the small picture that pages show
MOST_OF_ONE_LOOK = 20
MOST_OF_ONE_OBSERVATION = 200  # of a whole trial
ENDINGS = {"image/jpeg": "jpg", "image/png": "png"}
TAKEN = ("image/jpeg", "image/png", "image/webp")
SHA256 = re.compile(r"[0-9a-f]{64}")
SORTS = "Send a JPEG, PNG or WebP picture."


def size_problem(width: int, height: int) -> str | None:
    """Why a picture of this size is not taken, None when it is; judged before anything is unpacked."""
    if width < 1 or height < 1:
        return "The picture is empty."
    if width * height > LARGEST_PIXELS or max(width, height) > LARGEST_EDGE:
        return (
            f"The picture has {width} x {height} points; at most {LARGEST_PIXELS // 1_000_000} million "
            f"in all and {LARGEST_EDGE} along one edge are taken. Make it smaller and send it again."
        )
    return None


def file_name(sha256: str, media_type: str) -> str:
    """Where a photo stands in the folder: two letters of its hash as a folder, so that none gets too full."""
    return f"{sha256[:2]}/{sha256}.{ENDINGS[media_type]}"


def small_name(sha256: str) -> str:
    """Where the small picture of a photo stands; it can be made anew at any time."""
    return f"small/{sha256[:2]}/{sha256}.jpg"

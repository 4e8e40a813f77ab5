"""What a photo may be, and how it is named where it is kept."""

import re

LARGEST_BYTES = 16 * 1024 * 1024  # as sent; a phone's picture has 2 to 8 MB
LARGEST_PIXELS = 50_000_000  # own limit: drawn anew it takes some 3 bytes each, 150 MB, for a second
LARGEST_EDGE = 16_384
SMALL_EDGE = 480  # of the small picture that pages show
MOST_OF_ONE_LOOK = 20
MOST_OF_ONE_OBSERVATION = 200  # of a whole trial
MOST_OF_ONE_SHIPMENT = 50
PDF = "application/pdf"
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", PDF: "pdf"}
TAKEN = ("image/jpeg", "image/png", "image/webp", PDF)
SHA256 = re.compile(r"[0-9a-f]{64}")
SORTS = "Send a JPEG, PNG or WebP picture."
HEAD, TAIL, WITHIN = b"%PDF-", b"%%EOF", 1024  # ISO 32000-1:2008, 7.5.2 and 7.5.5; the tail within: H.3.4


def is_pdf(content: bytes) -> bool:
    """True when bytes say that they are a PDF; whether it is sound only opening it can tell."""
    return content.startswith(HEAD)


def pdf_problem(content: bytes) -> str | None:
    """Why a PDF is not taken, None when it is. It is never opened here: whoever reads it saves it first."""
    if len(content) > LARGEST_BYTES:
        return f"At most {LARGEST_BYTES // 1024**2} MB are taken."
    if TAIL not in content[-WITHIN:]:
        return "The paper is not whole: its end is missing. Save or scan it anew."
    return None


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

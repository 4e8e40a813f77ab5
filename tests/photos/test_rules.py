"""What of a picture or paper is refused before it is opened. The limits are our own."""

import pytest

from service.photos.rules import LARGEST_BYTES, LARGEST_EDGE, is_pdf, pdf_problem, size_problem

WHOLE = b"%PDF-1.7\n...\n%%EOF\n"


def test_a_whole_paper_is_taken() -> None:
    assert is_pdf(WHOLE)
    assert pdf_problem(WHOLE) is None


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (WHOLE + b" " * LARGEST_BYTES, "At most 16 MB"),
        (WHOLE.replace(b"%%EOF", b""), "not whole"),
        (WHOLE + b" " * 2000, "not whole"),  # ISO 32000-1:2008, H.3.4: within the last 1024 bytes
    ],
)
def test_a_paper_that_is_too_large_or_cut_off_is_not(content: bytes, why: str) -> None:
    assert why in (pdf_problem(content) or "")


@pytest.mark.parametrize("size", [(1, 1), (LARGEST_EDGE, 3000), (7071, 7071)])
def test_a_picture_of_a_camera_is_taken(size: tuple[int, int]) -> None:
    assert size_problem(*size) is None


@pytest.mark.parametrize(
    ("size", "why"),
    [
        ((0, 5), "empty"),
        ((5, 0), "empty"),
        ((LARGEST_EDGE + 1, 1), "along one edge"),
        ((7072, 7072), "50 million"),
    ],
)
def test_a_picture_that_is_empty_or_too_large_to_draw_is_not(size: tuple[int, int], why: str) -> None:
    assert why in (size_problem(*size) or "")

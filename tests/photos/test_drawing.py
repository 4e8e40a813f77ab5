"""Only what can be seen of a picture is kept; read back with the standards' own structure, not by Pillow."""

import io
import struct
from collections.abc import Iterator

import pytest
from PIL import Image, ImageCms, PngImagePlugin

from service.photos.drawing import NoPhoto, drawn_anew, drawn_small
from service.photos.rules import LARGEST_BYTES, LARGEST_EDGE
from tests.make_photos import BLUE, RED, encoded, half_and_half, png_of

ORIENTATION, GPS, MAKER = 0x0112, 0x8825, 0x010F  # tags of Exif 2.3 (CIPA DC-008), table 4
SECRET = b"57 North 7 West"


def segments(jpeg: bytes) -> Iterator[tuple[int, bytes]]:
    """The marker segments before the picture's data (ITU-T T.81, annex B.1.1)."""
    at = 2
    while jpeg[at + 1] != 0xDA:  # start of scan
        length = struct.unpack(">H", jpeg[at + 2 : at + 4])[0]
        yield jpeg[at + 1], jpeg[at + 4 : at + 2 + length]
        at += 2 + length


def chunks(png: bytes) -> list[bytes]:
    """The names of the chunks (PNG, W3C 2003, section 5.3)."""
    at, found = 8, []
    while at < len(png):
        found.append(png[at + 4 : at + 8])
        at += 12 + struct.unpack(">I", png[at : at + 4])[0]
    return found


def seen(content: bytes) -> Image.Image:
    return Image.open(io.BytesIO(content)).convert("RGB")


def near(found: object, wanted: tuple[int, int, int]) -> bool:
    assert isinstance(found, tuple)
    return all(abs(one - other) < 12 for one, other in zip(found, wanted, strict=True))


def exif(**more: int) -> Image.Exif:
    said = Image.Exif()
    said[MAKER] = "an invented camera"
    said.get_ifd(GPS)[2] = (57.0, 7.0, 0.0)
    said[ORIENTATION] = more.get("orientation", 1)
    return said


def test_a_jpeg_keeps_no_place_no_device_and_no_comment() -> None:
    content = encoded(half_and_half(), exif=exif(), comment=SECRET)
    assert b"invented camera" in content
    assert SECRET in content
    drawn = drawn_anew(content)
    # T.81 table B.1: E0 to EF are application segments (E1: Exif and XMP), FE comments; JFIF (E0) is bare.
    told = [(marker, body) for marker, body in segments(drawn.content) if marker >= 0xE0]
    assert [(marker, body[:5]) for marker, body in told] == [(0xE0, b"JFIF\x00")]
    assert drawn.media_type == "image/jpeg"


def test_a_png_keeps_no_text() -> None:
    note = PngImagePlugin.PngInfo()
    note.add_text("Comment", SECRET.decode())
    content = encoded(half_and_half(), "PNG", pnginfo=note, exif=exif())
    assert {b"tEXt", b"eXIf"} <= set(chunks(content))
    drawn = drawn_anew(content)
    assert set(chunks(drawn.content)) == {b"IHDR", b"IDAT", b"IEND"}
    assert seen(drawn.content).getpixel((0, 0)) == RED


def test_what_hangs_behind_a_picture_is_gone() -> None:
    content = encoded(half_and_half()) + b"<script>alert(1)</script>PK\x03\x04"
    assert b"script" not in drawn_anew(content).content


def test_a_picture_taken_on_its_side_is_turned_upright() -> None:
    # Exif 2.3, tag 274: 6 means that row 0 is the right-hand side, so left of the stored one comes on top.
    drawn = drawn_anew(encoded(half_and_half(40, 20), exif=exif(orientation=6), quality=95))
    assert (drawn.width, drawn.height) == (20, 40)
    assert near(seen(drawn.content).getpixel((10, 3)), RED)
    assert near(seen(drawn.content).getpixel((10, 36)), BLUE)


def test_colours_of_another_space_become_those_of_the_screen() -> None:
    # A profile is applied and left out; sRGB's own changes nothing (IEC 61966-2-1).
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    drawn = drawn_anew(encoded(half_and_half(), "PNG", icc_profile=profile))
    assert seen(drawn.content).getpixel((0, 0)) == RED
    assert b"iCCP" not in chunks(drawn.content)


def test_a_broken_profile_does_not_stop_a_picture() -> None:
    assert drawn_anew(encoded(half_and_half(), "PNG", icc_profile=b"none")).width == 40


def test_a_webp_becomes_a_jpeg_and_clear_parts_white() -> None:
    clear = Image.new("RGBA", (8, 8), (255, 0, 0, 0))
    drawn = drawn_anew(encoded(clear, "WEBP", lossless=True))
    assert drawn.media_type == "image/jpeg"
    assert near(seen(drawn.content).getpixel((4, 4)), (255, 255, 255))


@pytest.mark.parametrize("mode", ["1", "L", "P", "CMYK", "RGBA"])
def test_a_picture_of_any_colours_can_be_drawn(mode: str) -> None:
    sort = "JPEG" if mode == "CMYK" else "PNG"
    assert drawn_anew(encoded(half_and_half().convert(mode), sort)).width == 40


def test_the_same_file_gives_the_same_bytes() -> None:
    content = encoded(half_and_half(), exif=exif())
    assert drawn_anew(content) == drawn_anew(content)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "no-photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "no-photo"),
        (b"<html>", "no-photo"),
        (encoded(half_and_half(), "GIF"), "no-photo"),
        (encoded(half_and_half(), "TIFF"), "no-photo"),
        (encoded(half_and_half(400, 400), "PNG")[:-200], "photo-damaged"),
        (encoded(half_and_half(400, 400))[:-900], "photo-damaged"),
        (png_of(60, 60), "photo-damaged"),
    ],
    ids=["nothing", "svg", "html", "gif", "tiff", "half a png", "half a jpeg", "png without its points"],
)
def test_what_is_no_whole_picture_is_refused(content: bytes, code: str) -> None:
    with pytest.raises(NoPhoto) as refused:
        drawn_anew(content)
    assert refused.value.code == code


@pytest.mark.parametrize(
    "size", [(50_000, 50_000), (7_100, 7_100), (LARGEST_EDGE + 1, 1)], ids=["bomb", "51 million", "long"]
)
def test_a_picture_that_unpacks_to_too_much_is_refused_before_it_is(size: tuple[int, int]) -> None:
    # CWE-409: a small file that says it is huge. The points are not there: unpacked it would be damaged.
    content = png_of(*size)
    assert len(content) < 200
    with pytest.raises(NoPhoto, match=r"large|at most") as refused:
        drawn_anew(content)
    assert refused.value.code == "photo-too-large"


def test_a_file_that_is_too_long_is_refused() -> None:
    with pytest.raises(NoPhoto, match="16 MB"):
        drawn_anew(bytes(LARGEST_BYTES + 1))


def test_the_small_one_is_small() -> None:
    found = seen(drawn_small(drawn_anew(encoded(half_and_half(2000, 1000))).content))
    assert found.size == (480, 240)
    assert near(found.getpixel((10, 10)), RED)

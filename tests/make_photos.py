"""Pictures for tests, made point by point; nothing comes from a real photo."""

import io
import struct
import zlib
from typing import Any

from PIL import Image

from tests.api import Api

# The least a PDF is by ISO 32000-1:2008, 7.5: a header, a body, a trailer, an end.
PDF = b"%PDF-1.7\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\nstartxref\n0\n%%EOF\n"
RED, BLUE = (200, 30, 30), (30, 30, 200)


def half_and_half(width: int = 40, height: int = 20) -> Image.Image:
    """The left half red, the right one blue."""
    picture = Image.new("RGB", (width, height), RED)
    picture.paste(BLUE, (width // 2, 0, width, height))
    return picture


def encoded(picture: Image.Image, sort: str = "JPEG", **how: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, sort, **how)
    return out.getvalue()


def png_of(width: int, height: int) -> bytes:
    """A PNG that says it is so large and holds next to nothing (chunks as in PNG, W3C 2003, section 5)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(bytes(1000)))
        + chunk(b"IEND", b"")
    )


def sent(api: Api, content: bytes, media_type: str = "image/jpeg", **headers: str) -> Any:
    return api.grower.send("POST", "/photos", headers={"Content-Type": media_type, **headers}, raw=content)


def kept(api: Api, content: bytes | None = None) -> Any:
    """A photo that was sent and is kept."""
    response = sent(api, encoded(half_and_half()) if content is None else content)
    assert response.status_code == 201, response.get_json()
    return response.get_json()

"""A stream in chunks is read as it was written, or not at all."""

import io

import pytest
from cryptography.exceptions import InvalidTag
from hypothesis import example, given
from hypothesis import strategies as st

from service.backups.chunks import TAG, Encrypting, decrypted
from tests.reference.outside import Kind, outside

GCM = "D. McGrew and J. Viega, The Galois/Counter Mode of Operation (submission to NIST), test case 14"
CHUNK = 16
KEY = bytes(range(32))


def encrypted(text: bytes, *, key: bytes = KEY, pieces: int = 7) -> bytes:
    target = io.BytesIO()
    writer = Encrypting(target, key, CHUNK)
    for begin in range(0, len(text), pieces):
        writer.write(text[begin : begin + pieces])
    writer.close()
    return target.getvalue()


def read(stream: bytes, key: bytes = KEY) -> bytes:
    return b"".join(decrypted(io.BytesIO(stream), key, CHUNK))


def chunks(stream: bytes) -> list[bytes]:
    return [stream[n : n + CHUNK + TAG] for n in range(0, len(stream), CHUNK + TAG)]


texts = st.binary(max_size=5 * CHUNK)
whole_chunks = st.integers(2, 5).flatmap(lambda n: st.binary(min_size=n * CHUNK, max_size=n * CHUNK))


@given(text=texts, pieces=st.integers(1, 3 * CHUNK))
def test_a_stream_is_read_as_it_was_written_whatever_the_pieces(text: bytes, pieces: int) -> None:
    assert read(encrypted(text, pieces=pieces)) == text


@outside(Kind.STANDARD, GCM)
def test_the_first_of_several_chunks_is_the_published_example() -> None:
    """Key, nonce and text of zeros: number 0, not the last."""
    first = encrypted(bytes(CHUNK) + b"more", key=bytes(32))[: CHUNK + TAG]
    assert first.hex() == "cea7403d4d606b6e074ec5d3baf39d18" + "d0d1c8a799996bf0265b98b5d48ab919"


@outside(Kind.STANDARD, GCM)
def test_the_published_example_alone_is_not_a_whole_stream() -> None:
    first = bytes.fromhex("cea7403d4d606b6e074ec5d3baf39d18d0d1c8a799996bf0265b98b5d48ab919")
    with pytest.raises(InvalidTag):
        read(first, key=bytes(32))


@given(text=texts, data=st.data())
def test_any_other_byte_is_noticed(text: bytes, data: st.DataObject) -> None:
    stream = bytearray(encrypted(text))
    stream[data.draw(st.integers(0, len(stream) - 1))] ^= data.draw(st.integers(1, 255))
    with pytest.raises(InvalidTag):
        read(bytes(stream))


@given(text=texts)
@example(text=bytes(3 * CHUNK))
def test_any_cut_is_noticed(text: bytes) -> None:
    stream = encrypted(text)
    for length in range(len(stream)):  # between two chunks as well, which chance would seldom meet
        with pytest.raises(InvalidTag):
            read(stream[:length])


@given(text=whole_chunks, data=st.data())
def test_a_chunk_taken_out_put_twice_or_exchanged_is_noticed(text: bytes, data: st.DataObject) -> None:
    parts = chunks(encrypted(text))
    one = data.draw(st.integers(0, len(parts) - 1))
    other = data.draw(st.integers(0, len(parts) - 1).filter(lambda n: n != one))
    exchanged = list(parts)
    exchanged[one], exchanged[other] = parts[other], parts[one]
    for bent in (parts[:one] + parts[one + 1 :], [*parts[:one], parts[one], *parts[one:]], exchanged):
        with pytest.raises(InvalidTag):
            read(b"".join(bent))


@given(text=texts, more=st.binary(min_size=1, max_size=3 * CHUNK))
def test_something_after_the_end_is_noticed(text: bytes, more: bytes) -> None:
    with pytest.raises(InvalidTag):
        read(encrypted(text) + more)


def test_a_chunk_of_another_stream_is_noticed() -> None:
    mine, other = (chunks(encrypted(bytes(3 * CHUNK), key=key)) for key in (KEY, bytes(32)))
    with pytest.raises(InvalidTag):
        read(b"".join([mine[0], other[1], mine[2]]))

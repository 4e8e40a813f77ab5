"""The envelope of an encrypted backup: opened with its key, by anybody who can read the RFC, or refused."""

import io
import json
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from joserfc.jwk import OKPKey

from service.backups import chunks, container, envelope
from service.backups.keys import for_decrypting
from service.backups.rules import Unfit
from tests.backups import hpke_by_the_rfc
from tests.reference.outside import Kind, outside

RFC = "RFC 9180 Hybrid Public Key Encryption, appendix A.1.1"
KEY = OKPKey.generate_key("X25519")
TEXT = b"PK of a backup " * 9


def written(file: Path, text: bytes = TEXT) -> bytes:
    raw = io.BytesIO()
    with envelope.around(raw, KEY) as target:
        target.write(text)
    file.write_bytes(raw.getvalue())
    return raw.getvalue()


def opened(file: Path, key: OKPKey | None = KEY) -> bytes:
    folder = file.parent / "folder"
    folder.mkdir(exist_ok=True)
    (folder / "opened.backup").unlink(missing_ok=True)
    plain = envelope.opened(file, key, folder, lambda *_: None)
    if plain == file:  # as one that is not encrypted
        container.manifest_in(plain)
    return plain.read_bytes()


def refusal(file: Path, content: bytes, key: OKPKey | None = KEY) -> str:
    file.write_bytes(content)
    with pytest.raises(Unfit) as said:
        opened(file, key)
    return said.value.code


@outside(Kind.STANDARD, RFC)
def test_the_reader_by_the_rfc_opens_the_example_of_the_rfc() -> None:
    private = "4612c550263fc8ad58375df3f557aac531d26850903e55a9f23f21d8534e8ac8"
    encapsulated = "37fda3567bdbd628e88668c3c8d7e97d1d1253b6d4ea6d44c150f741f1bf4431"
    message = "f938558b5d72f1a23810b4be2ab4f84331acc02fc97babc53a52ae8218a355a96d8770ac83d07bea87e13c512a"
    text = hpke_by_the_rfc.opened(
        bytes.fromhex(encapsulated),
        bytes.fromhex(message),
        X25519PrivateKey.from_private_bytes(bytes.fromhex(private)),
        b"Ode on a Grecian Urn",
        key_length=16,
        associated=b"Count-0",
    )
    assert text == b"Beauty is truth, truth beauty"


@outside(Kind.STANDARD, "RFC 9180 Hybrid Public Key Encryption, sections 4 and 5")
def test_a_reader_by_the_rfc_opens_what_the_house_wrote(tmp_path: Path) -> None:
    """Nothing of the service is needed to get a backup back: the key, the RFC, and the layout."""
    text = bytes(range(256)) * 4096 + b"the second chunk"
    stream = io.BytesIO(written(tmp_path / "a.backup", text))
    line = stream.readline()
    assert json.loads(line)["key"] == KEY.thumbprint()
    private = for_decrypting(KEY)
    cipher = AESGCM(hpke_by_the_rfc.opened(stream.read(32), stream.read(48), private, info=line))
    first, second = stream.read(1024 * 1024 + 16), stream.read()
    found = cipher.decrypt(bytes(12), first, None) + cipher.decrypt(bytes(10) + b"\1\1", second, None)
    assert found == text


def test_what_was_written_is_read_again(tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    for text in (b"", TEXT, bytes(chunks.CHUNK), bytes(chunks.CHUNK + 1)):
        assert TEXT not in written(file, text)
        assert opened(file) == text


def test_two_of_the_same_have_nothing_in_common_but_the_first_line(tmp_path: Path) -> None:
    one, other = written(tmp_path / "a.backup"), written(tmp_path / "b.backup")
    line = one.index(b"\n") + 1
    assert one[:line] == other[:line]
    assert not any(one[n : n + 16] in other for n in range(line, len(one) - 16))


@pytest.mark.promise(r=17)
def test_whatever_byte_is_another_it_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    whole = written(file)
    for place in range(len(whole)):
        for mask in (1, 0x20, 0x80):
            bent = bytearray(whole)
            bent[place] ^= mask
            assert refusal(file, bytes(bent)) in {"damaged", "no-backup", "newer", "other-key"}, place


@pytest.mark.promise(r=17)
def test_wherever_it_is_cut_off_it_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    whole = written(file)
    for end in range(1, len(whole)):
        assert refusal(file, whole[:end]) == "damaged", end


@pytest.mark.promise(r=17)
def test_the_line_of_another_the_key_of_another_and_the_rest_of_another_are_refused(tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    one, other = written(file), written(file)
    line = one.index(b"\n") + 1
    after_key = line + envelope.WRAPPED
    assert refusal(file, one[:after_key] + other[after_key:]) == "damaged"
    assert refusal(file, one[:line] + other[line:after_key] + one[after_key:]) == "damaged"
    for said in (b' "more": 1}\n', b"}\n", b"} \n"):
        bent = one[: line - 2] + (b"," if said.startswith(b" ") else b" ") + said + one[line:]
        assert refusal(file, bent) == "damaged"


@pytest.mark.promise(r=17)
def test_without_its_key_it_says_which_is_missing(tmp_path: Path) -> None:
    file, another = tmp_path / "a.backup", OKPKey.generate_key("X25519")
    whole = written(file)
    assert refusal(file, whole, None) == "no-key"
    assert refusal(file, whole, another) == "other-key"
    line = whole.index(b"\n") + 1
    named = whole[:line].replace(KEY.thumbprint().encode(), another.thumbprint().encode())
    assert refusal(file, named + whole[line:], another) == "damaged"


@pytest.mark.parametrize("wrapped", [bytes(80), b"\1" + bytes(79), b"\xff" * 80])
def test_a_wrapped_key_that_is_none_is_refused(tmp_path: Path, wrapped: bytes) -> None:
    file = tmp_path / "a.backup"
    whole = written(file)
    line = whole.index(b"\n") + 1
    assert refusal(file, whole[:line] + wrapped + whole[line + 80 :]) == "damaged"


def said(**members: object) -> bytes:
    body = {"format": "dipledger-backup-encrypted", "version": 1, "key": KEY.thumbprint(), **members}
    return json.dumps(body).encode() + b"\n"


def test_a_version_to_come_is_left_to_it(tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    assert refusal(file, said(version=2)) == "newer"
    assert refusal(file, said(format="another")) == "no-backup"
    assert refusal(file, said(version=[])) == "damaged"

"""Opening one message of HPKE by RFC 9180: base mode, DHKEM(X25519, HKDF-SHA256), HKDF-SHA256, AES-GCM.

Written from the RFC's sections 4 and 5 alone, to read what the service wrote without what it wrote it with.
"""

import hashlib
import hmac

from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

KEM, KDF = (0x0020).to_bytes(2, "big"), (0x0001).to_bytes(2, "big")  # section 7
AEADS = {16: (0x0001).to_bytes(2, "big"), 32: (0x0002).to_bytes(2, "big")}  # by the length of their key


def extract(salt: bytes, suite: bytes, label: bytes, secret: bytes) -> bytes:
    return hmac.digest(salt or bytes(32), b"HPKE-v1" + suite + label + secret, "sha256")


def expand(secret: bytes, suite: bytes, label: bytes, info: bytes, length: int) -> bytes:
    info = length.to_bytes(2, "big") + b"HPKE-v1" + suite + label + info
    found, block, number = b"", b"", 1
    while len(found) < length:
        block = hmac.digest(secret, block + info + bytes([number]), hashlib.sha256)
        found, number = found + block, number + 1
    return found[:length]


def shared_secret(encapsulated: bytes, private: X25519PrivateKey) -> bytes:
    """Decap (4.1)."""
    suite = b"KEM" + KEM
    own = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    exchanged = private.exchange(X25519PublicKey.from_public_bytes(encapsulated))
    secret = extract(b"", suite, b"eae_prk", exchanged)
    return expand(secret, suite, b"shared_secret", encapsulated + own, 32)


def key_and_nonce(shared: bytes, info: bytes, key_length: int) -> tuple[bytes, bytes]:
    """KeySchedule (5.1) of the base mode: there is no pre-shared key."""
    suite = b"HPKE" + KEM + KDF + AEADS[key_length]
    context = b"\0" + extract(b"", suite, b"psk_id_hash", b"") + extract(b"", suite, b"info_hash", info)
    secret = extract(shared, suite, b"secret", b"")
    return expand(secret, suite, b"key", context, key_length), expand(
        secret, suite, b"base_nonce", context, 12
    )


def opened(
    encapsulated: bytes,
    message: bytes,
    private: X25519PrivateKey,
    info: bytes,
    *,
    key_length: int = 32,
    associated: bytes = b"",
) -> bytes:
    """The first message (its number, 0, leaves the nonce as it is)."""
    key, nonce = key_and_nonce(shared_secret(encapsulated, private), info, key_length)
    return AESGCM(key).decrypt(nonce, message, associated)

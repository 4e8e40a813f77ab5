"""Signing what is sent (Standard Webhooks): HMAC-SHA256 over id, time and the exact bytes of the body.

Nothing that could be stolen is kept: the secret of a webhook is derived from the secret of the house, the id
of the webhook and the number of times it was rotated (HKDF, RFC 5869).
"""

import base64
import hashlib
import hmac
from collections.abc import Sequence
from datetime import datetime

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

PREFIX = "whsec_"
LENGTH = 32  # the standard asks for 24 to 64 bytes


def secret_of(house_secret: str, webhook_id: str, generation: int) -> str:
    """The secret of a webhook as its receiver gets it."""
    info = f"dipledger webhook {webhook_id} {generation}".encode()
    key = HKDF(SHA256(), LENGTH, salt=None, info=info).derive(house_secret.encode())
    return PREFIX + base64.b64encode(key).decode()


def signed(secrets: Sequence[str], message_id: str, at: datetime, body: bytes) -> dict[str, str]:
    """The three headers of an attempt at a moment; one signature for each secret that is in force."""
    timestamp = str(int(at.timestamp()))
    signatures = " ".join(_signature(secret, message_id, timestamp, body) for secret in secrets)
    return {"webhook-id": message_id, "webhook-timestamp": timestamp, "webhook-signature": signatures}


def _signature(secret: str, message_id: str, timestamp: str, body: bytes) -> str:
    key = base64.b64decode(secret.removeprefix(PREFIX))
    content = b".".join([message_id.encode(), timestamp.encode(), body])
    return "v1," + base64.b64encode(hmac.digest(key, content, hashlib.sha256)).decode()

"""What proves that it is you: passwords as argon2id hashes, one-time passwords with a sealed seed."""

import base64
import threading
from datetime import datetime

import pyotp
from argon2 import PasswordHasher, profiles
from argon2.exceptions import InvalidHashError, VerificationError
from cryptography.fernet import Fernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from service.accounts.rules_people import totp_step

AT_ONCE = threading.BoundedSemaphore(2)  # each hash takes 64 MiB (RFC 9106, second recommended option)
PROFILE = profiles.RFC_9106_LOW_MEMORY
HASHER = PasswordHasher.from_parameters(PROFILE)
ISSUER = "Dipledger"


def hashed(password: str) -> str:
    """The argon2id hash of a password (RFC 9106), with its salt and cost."""
    with AT_ONCE:
        return HASHER.hash(password)


def fits(stored: str | None, password: str) -> bool:
    """Whether a password fits; without a stored hash it takes as long and never does."""
    with AT_ONCE:
        try:
            return HASHER.verify(stored or _nobody(), password) and stored is not None
        except (VerificationError, InvalidHashError):
            return False


def new_seed() -> str:
    """A fresh seed for one-time passwords (RFC 6238)."""
    return pyotp.random_base32()


def seed_address(seed: str, name: str) -> str:
    """The address that an authenticator reads from a QR code."""
    return pyotp.TOTP(seed).provisioning_uri(name=name, issuer_name=ISSUER)


def is_seed(seed: str) -> bool:
    """True for what codes can be made of: base32, long enough."""
    try:
        pyotp.TOTP(seed).generate_otp(0)
    except ValueError:
        return False
    return True


def step_now(seed: str, code: str, now: datetime) -> int | None:
    """The time step that a six-digit code belongs to: now, the one before or the one after; else None.

    None too for what is no seed.
    """
    if not is_seed(seed):
        return None
    now_step = totp_step(now)
    otp = pyotp.TOTP(seed)
    for step in (now_step, now_step - 1, now_step + 1):
        if pyotp.utils.strings_equal(otp.generate_otp(step), code.strip().replace(" ", "")):
            return step
    return None


def seal(seed: str, secret: str) -> str:
    """A seed as it is kept: readable only with the secret of the house."""
    return _cipher(secret).encrypt(seed.encode()).decode()


def unseal(sealed: str, secret: str) -> str:
    """The seed again."""
    return _cipher(secret).decrypt(sealed.encode()).decode()


def _cipher(secret: str) -> Fernet:
    key = HKDF(SHA256(), 32, salt=None, info=b"dipledger one-time password seeds").derive(secret.encode())
    return Fernet(base64.urlsafe_b64encode(key))


_NOBODY: list[str] = []


def _nobody() -> str:
    if not _NOBODY:
        _NOBODY.append(HASHER.hash("nobody has this password"))
    return _NOBODY[0]

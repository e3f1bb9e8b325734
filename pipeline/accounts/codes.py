"""Codes that change with the time (TOTP, RFC 6238), and recovery codes: no rows, no clock."""

from __future__ import annotations

import hashlib
import re
import secrets
from base64 import urlsafe_b64encode
from datetime import datetime

import pyotp
import segno
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

# RFC 6238, 5.2, recommends steps of 30 seconds, and to take at most one step for the delay.
STEP = 30
AROUND = 1
ISSUER = "Pipeline"

RECOVERY_CODES = 10
# 24 of 32 letters are 120 bits: enough for a plain digest.
LETTERS = "abcdefghijklmnopqrstuvwxyz234567"
GROUPS, GROUP = 6, 4


def new_secret() -> str:
    """Return a new secret of 160 bits (RFC 4226, 4, R6), in base 32."""
    return pyotp.random_base32()


def step_of(now: datetime) -> int:
    """Return the step of time in which ``now`` lies."""
    return int(now.timestamp()) // STEP


def code_at(secret: str, step: int) -> str:
    """Return the six digits of a step."""
    return pyotp.TOTP(secret, interval=STEP).generate_otp(step)


def matching_step(secret: str, typed: str, *, now: datetime, after: int = 0) -> int | None:
    """Return the step whose code was typed; ``None``: of none near ``now`` and after ``after``."""
    near = step_of(now)
    for step in range(max(near - AROUND, after + 1), near + AROUND + 1):
        if constant_time_compare(code_at(secret, step), typed):
            return step
    return None


def address_of(secret: str, email: str) -> str:
    """Return the address by which an app on a telephone takes in the secret."""
    return pyotp.TOTP(secret).provisioning_uri(name=email, issuer_name=ISSUER)


def picture_of(address: str) -> str:
    """Return an address as a picture that a camera reads: SVG, as the source of an image."""
    picture: str = segno.make(address, error="m").svg_data_uri(scale=5, light="#ffffff")
    return picture


def bare(typed: str) -> str:
    """Return a code without the blanks and dashes in which it is read and typed."""
    return re.sub(r"[\s-]", "", typed).lower()


def new_recovery_codes() -> list[str]:
    """Return ten codes to be kept on paper, each good for once."""
    return ["-".join(_group() for _ in range(GROUPS)) for _ in range(RECOVERY_CODES)]


def _group() -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(GROUP))


def digest_of(code: str) -> str:
    """Return what is kept of a recovery code."""
    return hashlib.sha256(bare(code).encode()).hexdigest()


def lock(secret: str) -> str:
    """Return a secret as it may lie in the database."""
    return _locks().encrypt(secret.encode()).decode()


def unlock(locked: str) -> str | None:
    """Return the secret; ``None`` where the key with which it was locked is gone."""
    try:
        return _locks().decrypt(locked.encode()).decode()
    except InvalidToken:
        return None


def _locks() -> MultiFernet:
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    return MultiFernet([Fernet(_key(key)) for key in keys])


def _key(secret_key: str | bytes) -> bytes:
    salt = "pipeline.accounts.codes"
    return urlsafe_b64encode(salted_hmac(salt, "", secret=secret_key, algorithm="sha256").digest())

"""Passwords are hashed cheaply here: how slow the real hasher is is not what is tested."""

import pytest


@pytest.fixture(autouse=True)
def cheap_hashes(settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

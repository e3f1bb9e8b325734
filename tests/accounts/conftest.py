"""Passwords are hashed cheaply here: how slow the real hasher is is not what is tested."""

import pytest

from pipeline.env import MailServer


@pytest.fixture(autouse=True)
def cheap_hashes(settings) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def by_mail(settings) -> None:
    """Let letters leave the app."""
    settings.MAIL_SERVER = MailServer("mail.example", 587)

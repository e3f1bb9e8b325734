"""Behind TLS browsers are told to stay there, and cookies are bound to this very host."""

import json
import os
import subprocess
import sys

import pytest
from django.conf import settings

ASKED = """
import json
from django.conf import settings
import django
django.setup()
names = ["SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE",
         "SECURE_HSTS_SECONDS", "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE",
         "SESSION_COOKIE_PATH", "SESSION_COOKIE_DOMAIN"]
print(json.dumps({name: getattr(settings, name) for name in names}))
"""


def settings_at(address: str) -> dict[str, object]:
    """Return what another process, reached at ``address``, has for its settings."""
    found = subprocess.run(
        [sys.executable, "-c", ASKED],
        cwd=settings.BASE_DIR,
        env={**os.environ, "BASE_URL": address, "DJANGO_SETTINGS_MODULE": "pipeline.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(found.stdout)


@pytest.fixture(scope="module")
def over_tls():
    return settings_at("https://desk.example")


def test_browsers_stay_on_tls_for_a_year(over_tls):
    # OWASP ASVS 5.0, V3.4.1: at least one year
    assert over_tls["SECURE_HSTS_SECONDS"] >= 365 * 24 * 60 * 60


def test_cookies_are_bound_to_this_host_and_to_tls(over_tls):
    # OWASP ASVS 5.0, V3.3.1; the prefix asks for Secure, the path /, and no domain (RFC 6265bis)
    assert over_tls["SESSION_COOKIE_NAME"].startswith("__Host-")
    assert over_tls["CSRF_COOKIE_NAME"].startswith("__Host-")
    assert over_tls["SESSION_COOKIE_SECURE"] is True
    assert over_tls["CSRF_COOKIE_SECURE"] is True
    assert (over_tls["SESSION_COOKIE_PATH"], over_tls["SESSION_COOKIE_DOMAIN"]) == ("/", None)


def test_without_tls_nothing_is_asked_that_needs_it():
    plain = settings_at("http://127.0.0.1:8000")
    assert plain["SECURE_HSTS_SECONDS"] == 0
    assert plain["SESSION_COOKIE_SECURE"] is False
    assert not plain["SESSION_COOKIE_NAME"].startswith("__")

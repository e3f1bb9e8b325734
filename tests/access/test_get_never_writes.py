"""Opening a page changes nothing: a link in a letter may be followed by a machine."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from pipeline.accounts.inviting import link_of
from pipeline.accounts.links import sign_in_link
from pipeline.accounts.models import Invitation
from pipeline.accounts.resetting import reset_link
from pipeline.accounts.tokens import print_of, seal
from tests.access.everything import address, one_of_each
from tests.access.test_matrix import TABLE
from tests.conftest import NOW

WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|MERGE|CREATE|DROP|ALTER)\b", re.IGNORECASE)


def writes(run) -> list[str]:
    """Return the statements that ``run`` writes with."""
    with CaptureQueriesContext(
        connection,
    ) as captured:
        response = run()
        _ = b"".join(response) if response.streaming else response.content
    assert len(captured) > 0
    return [q["sql"] for q in captured if WRITES.match(q["sql"])]


@pytest.mark.parametrize("name", TABLE)
def test_a_get_writes_nothing(cast, sign_in, name):
    rows = one_of_each(cast)
    row = TABLE[name][0]
    path = address(name, "harbour", rows[row] if row else None)
    for who in (cast.owner, cast.member, cast.reader):
        browser = sign_in(who)
        assert writes(lambda: browser.get(path)) == []  # noqa: B023
        assert writes(lambda: browser.get(path, headers={"HX-Request": "true"})) == []  # noqa: B023


def test_a_page_outside_any_team_writes_nothing(cast, sign_in, client, settings):
    browser = sign_in(cast.owner)
    invitation = Invitation.objects.get(pk=one_of_each(cast)["invitation"])
    mine = {"user": cast.owner.user_id, "email": "olive@tarn.example"}
    until = NOW + timedelta(hours=1)
    asked = seal("address", {**mine, "print": print_of(cast.owner.user)}, until=until)
    for path in (
        *map(reverse, ("sign-in", "forgotten", "teams", "account")),
        *map(reverse, ("account-address", "account-password")),
        *map(reverse, ("second-factor", "second-factor-codes", "second-factor-off")),
        reverse("account-address-is-mine", args=[asked]),
    ):
        assert writes(lambda: browser.get(path)) == []  # noqa: B023
    for path in (
        sign_in_link(cast.reader.user).removeprefix(settings.BASE_URL),
        reset_link(cast.reader.user, now=NOW).removeprefix(settings.BASE_URL),
        link_of(invitation).removeprefix(settings.BASE_URL),
    ):
        assert client.get(path).status_code == 200
        assert writes(lambda: client.get(path)) == []  # noqa: B023


def test_a_write_would_be_seen(cast, sign_in):
    browser = sign_in(cast.member)
    path = address("wanted", "harbour")
    assert writes(lambda: browser.post(path))

"""Every page of sessions: strangers and other teams find nothing, readers change nothing."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sessions.models import DiscoverySession
from sessions.urls import urlpatterns
from tests.factories import OfferFactory

NAMES = [pattern.name for pattern in urlpatterns]

# What a reader may look at. Everything else is only for those who write.
READ = {
    "sessions",
    "session",
    "session-entry",
    "offer",
    "offered-entry",
    "desk",
    "desk-changes",
    "formats",
    "format",
    "format-compare",
    "deliverables",
    "deliverable",
    "deliverable-file",
}
LISTS = {"sessions", "formats", "format-new", "deliverables"}
POST_ONLY = {
    "session-back",
    "session-invite",
    "offer-send",
    "offer-free",
    "offered-take",
    "desk-catch",
    "deliverable-owe",
    "format-retire",
    "format-bring-back",
}
# What is read, and is no page.
FILES = {"deliverable-file", "desk-changes", "session-entry", "offered-entry"}


@pytest.fixture
def held(takeaway):
    return OfferFactory(lead=takeaway.lead, format=takeaway.session.format)


@pytest.fixture
def address(cast, takeaway, held):
    """Return the address of a page by its name, in the team that owns the rows or in another."""
    keys = {
        "session-book": takeaway.lead_id,
        "session-times": takeaway.lead_id,
        "offer": held.pk,
        "offered": held.times.get().pk,
        "session": takeaway.session_id,
        "desk": takeaway.session_id,
        "format": takeaway.session.format_id,
        "deliverable": takeaway.pk,
        "deliverable-new": takeaway.session_id,
    }

    def of(name, team=None):
        args = [(team or cast.team).slug]
        if name not in LISTS:
            args.append(keys.get(name) or keys[name.partition("-")[0]])
        return reverse(name, args=args)

    return of


def state() -> list:
    return list(DiscoverySession.objects.values_list("state", "version"))


@pytest.mark.parametrize("name", NAMES)
def test_a_stranger_finds_nothing(cast, sign_in, address, name):
    browser = sign_in(cast.stranger)
    assert browser.get(address(name)).status_code == 404
    assert browser.post(address(name)).status_code == 404


@pytest.mark.parametrize("name", NAMES)
def test_the_owner_of_another_team_finds_nothing(cast, sign_in, address, name):
    browser = sign_in(cast.other_owner)
    assert browser.get(address(name)).status_code == 404
    assert browser.post(address(name)).status_code == 404


@pytest.mark.parametrize("name", [n for n in NAMES if n not in LISTS])
def test_a_row_is_not_found_through_ones_own_team_either(cast, sign_in, address, name):
    browser, before = sign_in(cast.other_owner), state()
    through = address(name, cast.other_team)
    expected = 405 if name in POST_ONLY else 404
    assert browser.get(through).status_code == expected
    assert browser.post(through).status_code in (404, 405)
    assert state() == before


@pytest.mark.parametrize("name", NAMES)
def test_a_reader_who_writes_is_refused(cast, sign_in, address, name):
    browser, before = sign_in(cast.reader), state()
    assert browser.post(address(name)).status_code == 403
    assert state() == before


@pytest.mark.parametrize("name", NAMES)
def test_a_reader_reads_what_is_to_be_read_and_nothing_else(cast, sign_in, address, name):
    expected = {"deliverable-file": 404}.get(name, 200) if name in READ else 403
    assert sign_in(cast.reader).get(address(name)).status_code == expected


@pytest.mark.parametrize("name", sorted(READ - FILES))
def test_a_reader_is_offered_no_buttons(cast, sign_in, address, name):
    words = sign_in(cast.reader).get(address(name)).content.decode()
    main = words[words.index("<main") :]
    assert "<form" not in main
    assert "<button" not in main
    for end in ("/held/", "/missed/", "/cancel/", "/edit/", "/sent/", "/waive/", "/book/"):
        assert end not in main


@pytest.mark.parametrize("name", NAMES)
def test_somebody_who_is_not_signed_in_is_asked_to(address, name):
    answer = Client().get(address(name))
    assert (answer.status_code, answer.url.split("?")[0]) == (302, reverse("sign-in"))


@pytest.mark.parametrize("name", NAMES)
def test_looking_writes_nothing(cast, sign_in, address, name):
    browser = sign_in(cast.member)
    with CaptureQueriesContext(connection) as seen:
        browser.get(address(name))
    for query in seen.captured_queries:
        assert query["sql"].split()[0] in ("SELECT", "DECLARE", "PRAGMA"), query["sql"]

"""Who may come in: every page of follow-ups and letters, tried by everybody."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import (
    ConsentFactory,
    ContactFactory,
    FollowUpFactory,
    LeadFactory,
    LeadLetterFactory,
    PlanStepFactory,
)
from tests.mail.letters import letter_to

pytestmark = pytest.mark.django_db

LETTERS = [
    "lead-letter",
    "lead-letter-new",
    "lead-letter-send",
    "lead-letter-remove",
    "contact-no-letters",
    "contact-letters-again",
    "contact-agreed",
    "consent-withdrawn",
]
READ = [
    "start",
    "lead",
    "follow-up",
    "lead-letter",
    "plan",
    "plan-changes",
    "feed",
    "letters",
    "letter",
    "letter-as-sent",
    "letter-calendar",
    "letter-message",
]
# Of the team or of oneself: no row stands in the address.
WHOLE = {
    "start",
    "plan",
    "plan-changes",
    "plan-move",
    "plan-put-back",
    "plan-step-new",
    "feed",
    "feed-change",
    "feed-end",
    "letters",
}
WRITE = [
    "follow-up",
    "follow-up-new",
    "follow-up-done",
    "follow-up-undo",
    "follow-up-put-off",
    "follow-up-give",
    "follow-up-drop",
    *LETTERS,
    "plan-move",
    "plan-put-back",
    "plan-step-new",
    "plan-step",
    "plan-step-remove",
    "feed-change",
    "feed-end",
    "letter-again",
]
# Writing pages that are also read: they hold a form.
FORMS = {"follow-up", "follow-up-new", "plan-step-new", "plan-step", *LETTERS}


@pytest.fixture
def address(cast):
    row = FollowUpFactory(lead=LeadFactory(team=cast.team))
    contact = ContactFactory(lead=row.lead)
    to_lead = LeadLetterFactory(lead=row.lead, contact=contact)
    step = PlanStepFactory(edition__team=cast.team)
    letter = letter_to(cast.reader, calendar="BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n")

    def of(name):
        keys = {
            **{name: [] for name in WHOLE},
            "lead": [row.lead.pk],
            "follow-up-new": [row.lead.pk],
            **{name: [to_lead.pk] for name in LETTERS},
            "lead-letter-new": [row.lead.pk],
            "contact-no-letters": [contact.pk],
            "contact-letters-again": [contact.pk],
            "contact-agreed": [contact.pk],
            "consent-withdrawn": [ConsentFactory(contact=contact).pk],
            "plan-step": [step.pk],
            "plan-step-remove": [step.pk],
            "letter": [letter.pk],
            "letter-as-sent": [letter.pk],
            "letter-calendar": [letter.pk],
            "letter-message": [letter.pk],
            "letter-again": [letter.pk],
        }
        return reverse(name, args=[cast.team.slug, *keys.get(name, [row.pk])])

    return of


def test_these_are_all_the_addresses():
    from pipeline.followups.urls import urlpatterns as followups
    from pipeline.mail.urls import urlpatterns as mail

    assert {url.name for url in [*followups, *mail]} == {*READ, *WRITE}


@pytest.mark.parametrize("name", READ)
def test_every_member_reads(cast, sign_in, address, name):
    for who in (cast.owner, cast.reader):
        assert sign_in(who).get(address(name)).status_code == 200


@pytest.mark.parametrize("name", sorted({*READ, *WRITE}))
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_and_another_teams_owner_find_nothing(cast, sign_in, address, name, method):
    for who in (cast.stranger, cast.other_owner):
        assert getattr(sign_in(who), method)(address(name)).status_code == 404


@pytest.mark.parametrize("name", [n for n in [*READ, *WRITE] if n not in WHOLE])
def test_a_row_of_one_team_is_not_found_through_another(cast, sign_in, address, name):
    url = address(name).replace("/t/harbour/", "/t/quarry/")
    for method in ("get", "post"):
        assert getattr(sign_in(cast.other_owner), method)(url).status_code in (404, 405)
    if name in READ:
        assert sign_in(cast.other_owner).get(url).status_code == 404
    if name in WRITE:
        assert sign_in(cast.other_owner).post(url).status_code == 404


@pytest.mark.parametrize("name", WRITE)
def test_a_reader_who_writes_is_refused(cast, sign_in, address, name):
    assert sign_in(cast.reader).post(address(name)).status_code == 403


@pytest.mark.parametrize("name", [n for n in WRITE if n not in FORMS])
def test_a_get_never_writes(cast, sign_in, address, name):
    assert sign_in(cast.owner).get(address(name)).status_code == 405


@pytest.mark.parametrize("name", sorted({*READ, *WRITE}))
def test_who_has_not_signed_in_is_asked_to(client, cast, address, name):
    response = client.get(address(name))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign-in"))


def test_a_member_reads_only_the_letters_to_them_and_an_owner_all(cast, sign_in, address):
    assert sign_in(cast.member).get(address("letter")).status_code == 404
    assert sign_in(cast.member).get(address("letter-as-sent")).status_code == 404
    assert "To Rea" not in sign_in(cast.member).get(address("letters")).text
    for who in (cast.reader, cast.owner):
        assert "To Rea" in sign_in(who).get(address("letters")).text

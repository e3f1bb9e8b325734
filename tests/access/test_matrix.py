"""Who gets what at every address of a team: written by hand, tried one by one.

In each line stand the answers to: nobody, a stranger, the other team's owner, a reader, a member,
an owner. Nobody is sent to sign in; who is not in the team finds nothing; who may not is refused;
an empty form comes back with its errors (422), a button leads on (302), and what is there only to
be read, or only to be pressed, says so (405).
"""

from __future__ import annotations

import pytest
from django.db import transaction
from django.test import Client

from pipeline.teams.models import Member, Role
from tests.access.everything import address, one_of_each, team_addresses

PEOPLE = ("nobody", "stranger", "other_owner", "reader", "member", "owner")

READ = "302 404 404 200 200 200"
READ_ONLY = "302 404 404 403 405 405"
NO_READER = "302 404 404 403 200 200"
OWNERS_READ = "302 404 404 403 403 200"
OWNERS_READ_ONLY = "302 404 404 403 403 405"
PRESS_ONLY = "302 404 404 403 405 405"
EMPTY_FORM = "302 404 404 403 422 422"
OWNERS_EMPTY_FORM = "302 404 404 403 403 422"
PRESSED = "302 404 404 403 302 302"
OWNERS_PRESSED = "302 404 404 403 403 302"

# address: (the row in it, the answers to GET, the answers to an empty POST)
TABLE: dict[str, tuple[str | None, str, str]] = {
    # what is due, a lead's page, follow-ups
    "start": (None, READ, READ_ONLY),
    "lead": ("lead", READ, READ_ONLY),
    "follow-up-new": ("lead", NO_READER, EMPTY_FORM),
    "follow-up": ("follow-up", READ, EMPTY_FORM),
    "follow-up-done": ("follow-up", PRESS_ONLY, PRESSED),
    "follow-up-undo": ("follow-up", PRESS_ONLY, PRESSED),
    "follow-up-put-off": ("follow-up", PRESS_ONLY, EMPTY_FORM),
    "follow-up-give": ("follow-up", PRESS_ONLY, EMPTY_FORM),
    "follow-up-drop": ("follow-up", PRESS_ONLY, EMPTY_FORM),
    "lead-letter-new": ("lead", NO_READER, EMPTY_FORM),
    "lead-letter": ("lead letter", READ, EMPTY_FORM),
    "lead-letter-send": ("lead letter", NO_READER, EMPTY_FORM),
    "lead-letter-remove": ("lead letter", NO_READER, EMPTY_FORM),
    "contact-no-letters": ("contact", NO_READER, EMPTY_FORM),
    "contact-letters-again": ("contact", NO_READER, EMPTY_FORM),
    "contact-agreed": ("contact", NO_READER, EMPTY_FORM),
    "consent-withdrawn": ("consent", NO_READER, EMPTY_FORM),
    "plan": (None, READ, READ_ONLY),
    "plan-changes": (None, READ, READ_ONLY),
    "plan-move": (None, PRESS_ONLY, PRESSED),
    "plan-put-back": (None, PRESS_ONLY, PRESSED),
    "plan-step-new": (None, NO_READER, EMPTY_FORM),
    "plan-step": ("plan step", NO_READER, EMPTY_FORM),
    "plan-step-remove": ("plan step", PRESS_ONLY, PRESSED),
    "feed": (None, READ, READ_ONLY),
    "feed-change": (None, PRESS_ONLY, PRESSED),
    "feed-end": (None, PRESS_ONLY, PRESSED),
    # leads and their facts
    "leads": (None, READ, READ_ONLY),
    "lead-new": (None, NO_READER, EMPTY_FORM),
    "lead-new-full": (None, NO_READER, EMPTY_FORM),
    "lead-edit": ("lead", NO_READER, EMPTY_FORM),
    "contact-new": ("lead", NO_READER, EMPTY_FORM),
    "contact-edit": ("contact", NO_READER, EMPTY_FORM),
    "contact-remove": ("contact", NO_READER, EMPTY_FORM),
    "log-new": ("lead", NO_READER, EMPTY_FORM),
    "log-edit": ("log", NO_READER, EMPTY_FORM),
    "log-remove": ("log", NO_READER, EMPTY_FORM),
    "decision-new": ("lead", NO_READER, EMPTY_FORM),
    "decision-edit": ("decision", NO_READER, EMPTY_FORM),
    "decision-remove": ("decision", NO_READER, EMPTY_FORM),
    "proposal-new": ("lead", NO_READER, EMPTY_FORM),
    "proposal-edit": ("proposal", NO_READER, EMPTY_FORM),
    "proposal-remove": ("proposal", NO_READER, EMPTY_FORM),
    "funding-new": ("lead", NO_READER, EMPTY_FORM),
    "funding-edit": ("funding", NO_READER, EMPTY_FORM),
    "funding-remove": ("funding", NO_READER, EMPTY_FORM),
    "lead-remove": ("lead", NO_READER, EMPTY_FORM),
    "removed": (None, READ, READ_ONLY),
    "put-back": ("change", PRESS_ONLY, PRESSED),
    "changes": ("changed", READ, READ_ONLY),
    "lead-merge": ("lead", NO_READER, EMPTY_FORM),
    "merge-undo": ("merge", NO_READER, PRESSED),
    # sessions, formats, deliverables
    "sessions": (None, READ, READ_ONLY),
    "session-book": ("lead", NO_READER, EMPTY_FORM),
    "session": ("session", READ, READ_ONLY),
    "session-edit": ("session", NO_READER, EMPTY_FORM),
    "session-held": ("session", NO_READER, EMPTY_FORM),
    "session-missed": ("session", NO_READER, PRESSED),
    "session-cancel": ("session", NO_READER, PRESSED),
    "session-back": ("session", PRESS_ONLY, PRESSED),
    "session-invite": ("session", PRESS_ONLY, PRESSED),
    "session-entry": ("session", READ, READ_ONLY),
    "session-times": ("lead", NO_READER, EMPTY_FORM),
    "offer": ("offer", READ, READ_ONLY),
    "offer-send": ("offer", PRESS_ONLY, PRESSED),
    "offer-free": ("offer", PRESS_ONLY, PRESSED),
    "offered-take": ("offered time", PRESS_ONLY, PRESSED),
    "offered-entry": ("offered time", READ, READ_ONLY),
    "desk": ("session", READ, READ_ONLY),
    "desk-changes": ("session", READ, READ_ONLY),
    "desk-catch": ("session", PRESS_ONLY, EMPTY_FORM),
    "formats": (None, READ, READ_ONLY),
    "format": ("format", READ, READ_ONLY),
    "format-new": (None, NO_READER, EMPTY_FORM),
    "format-edit": ("format", NO_READER, EMPTY_FORM),
    "format-retire": ("format", PRESS_ONLY, PRESSED),
    "format-bring-back": ("format", PRESS_ONLY, PRESSED),
    "format-compare": ("format", READ, READ_ONLY),
    "deliverables": (None, READ, READ_ONLY),
    "deliverable-new": ("session", NO_READER, EMPTY_FORM),
    "deliverable": ("deliverable", READ, EMPTY_FORM),
    "deliverable-sent": ("deliverable", NO_READER, EMPTY_FORM),
    "deliverable-waive": ("deliverable", NO_READER, EMPTY_FORM),
    "deliverable-owe": ("deliverable", PRESS_ONLY, PRESSED),
    "deliverable-file": ("deliverable", READ, EMPTY_FORM),
    # after the hour, the takeaway, a month's batch
    "after-hour": ("session", NO_READER, EMPTY_FORM),
    "write-up": ("session", READ, EMPTY_FORM),
    "lane-chart": ("session", NO_READER, EMPTY_FORM),
    "takeaway": ("session", READ, READ_ONLY),
    "takeaway-pdf": ("session", READ, READ_ONLY),
    "takeaway-send": ("session", NO_READER, EMPTY_FORM),
    "shared-end": ("shared", PRESS_ONLY, PRESSED),
    "takeaways": (None, READ, EMPTY_FORM),
    "batch": ("batch", READ, READ_ONLY),
    "batch-zip": ("batch", READ, READ_ONLY),
    # figures, sheets, letters
    "results": (None, READ, READ_ONLY),
    "results-formats": (None, READ, READ_ONLY),
    "results-return": (None, READ, READ_ONLY),
    "results-waiting": (None, READ, READ_ONLY),
    "results-work": (None, READ, READ_ONLY),
    "results-forecast": (None, READ, READ_ONLY),
    "results-crew": (None, OWNERS_READ, OWNERS_READ_ONLY),
    "results-review": (None, READ, READ_ONLY),
    # people's data
    "rights": (None, OWNERS_READ, OWNERS_READ_ONLY),
    "rights-search": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "retention": (None, OWNERS_READ, OWNERS_READ_ONLY),
    "retention-period": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "retention-erase": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "contact-data": ("contact", OWNERS_READ, OWNERS_EMPTY_FORM),
    "contact-erase": ("contact", OWNERS_READ, OWNERS_EMPTY_FORM),
    "rates": (None, READ, READ_ONLY),
    "rate-new": (None, NO_READER, EMPTY_FORM),
    "rate-edit": ("rate", NO_READER, EMPTY_FORM),
    "rate-remove": ("rate", NO_READER, EMPTY_FORM),
    "sheets": (None, READ, EMPTY_FORM),
    "sheet": ("sheet", READ, READ_ONLY),
    "sheet-take-in": ("sheet", PRESS_ONLY, PRESSED),
    "sheet-rejects": ("sheet", READ, READ_ONLY),
    "unsent": (None, READ, EMPTY_FORM),
    "export": (None, READ, READ_ONLY),
    "letters": (None, READ, READ_ONLY),
    # to the member; an owner reads all
    "letter": ("letter", "302 404 404 404 200 200", READ_ONLY),
    "letter-as-sent": ("letter", "302 404 404 404 200 200", READ_ONLY),
    "letter-calendar": ("letter", "302 404 404 404 200 200", READ_ONLY),
    "letter-message": ("letter", "302 404 404 404 200 200", READ_ONLY),
    "letter-again": ("letter", OWNERS_READ_ONLY, OWNERS_PRESSED),
    "failed": (None, OWNERS_READ, OWNERS_READ_ONLY),
    "failed-again": (None, OWNERS_READ_ONLY, OWNERS_PRESSED),
    "job-again": ("job", OWNERS_READ_ONLY, OWNERS_PRESSED),
    # the team itself
    "team": (None, READ, READ_ONLY),
    "team-settings": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "team-logo": (None, READ, OWNERS_EMPTY_FORM),
    # a reader, too, says which letters to get
    "wanted": (None, "302 404 404 405 405 405", "302 404 404 302 302 302"),
    "absence-new": (None, NO_READER, EMPTY_FORM),
    "absence-edit": ("absence", NO_READER, EMPTY_FORM),
    "absence-remove": ("absence", NO_READER, EMPTY_FORM),
    "enquiry-page": (None, READ, READ_ONLY),
    "enquiry-page-edit": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "member-role": ("member", OWNERS_READ_ONLY, OWNERS_PRESSED),
    "member-remove": ("member", OWNERS_READ_ONLY, OWNERS_PRESSED),
    "member-new": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "member-link": ("member", OWNERS_READ, OWNERS_READ_ONLY),
    # who gets in
    "access": (None, OWNERS_READ, OWNERS_READ_ONLY),
    "access-factor": (None, OWNERS_READ_ONLY, OWNERS_PRESSED),
    "hand-over": (None, OWNERS_READ, OWNERS_EMPTY_FORM),
    "invitation-again": ("invitation", OWNERS_READ_ONLY, OWNERS_PRESSED),
    "invitation-withdraw": ("invitation", OWNERS_READ_ONLY, OWNERS_PRESSED),
    # a reader, too, may go
    "leave": (None, READ, "302 404 404 302 302 302"),
}


@pytest.fixture
def rows(cast):
    return one_of_each(cast)


@pytest.fixture
def browsers(cast, sign_in):
    signed_in = {who: sign_in(getattr(cast, who)) for who in PEOPLE[1:]}
    return {"nobody": Client(), **signed_in}


def answer(browser: Client, method: str, path: str) -> int:
    """Return the status of a request, and take back what it did."""
    before = transaction.savepoint()
    # Every form of ours brings its token; nothing else is filled in.
    typed = {"csrfmiddlewaretoken": "token"} if method == "post" else {}
    response = getattr(browser, method)(path, typed)
    # A stream reads its rows only when it is read.
    _ = b"".join(response) if response.streaming else response.content
    transaction.savepoint_rollback(before)
    return int(response.status_code)


def test_every_address_of_a_team_has_its_line():
    assert sorted(TABLE) == sorted(str(pattern.name) for pattern in team_addresses())


def test_every_address_of_a_team_goes_through_the_door():
    assert [p.name for p in team_addresses() if not hasattr(p.callback, "needs")] == []


@pytest.mark.parametrize("name", TABLE)
def test_everybody_gets_what_stands_in_the_table(cast, rows, browsers, name):
    row, get, post = TABLE[name]
    path = address(name, "harbour", rows[row] if row else None)
    for method, said in (("get", get), ("post", post)):
        expected = dict(zip(PEOPLE, map(int, said.split()), strict=True))
        found = {who: answer(browsers[who], method, path) for who in PEOPLE}
        assert (method, found) == (method, expected)


@pytest.mark.parametrize("name", [name for name, (row, *_) in TABLE.items() if row])
def test_no_row_is_reached_through_the_address_of_another_team(cast, rows, browsers, name):
    """Its owner in person, with the right slug and our row: nothing is there."""
    row, get, post = TABLE[name]
    path = address(name, "quarry", rows[row])
    for method, said in (("get", get), ("post", post)):
        # Where even our owner may only read, or only press, that is said first.
        expected = 405 if said.split()[-1] == "405" else 404
        assert (method, answer(browsers["other_owner"], method, path)) == (method, expected)


@pytest.mark.parametrize("name", [name for name, (row, *_) in TABLE.items() if row])
def test_a_row_that_is_not_there_is_not_found(cast, rows, browsers, name):
    row, get, post = TABLE[name]
    path = address(name, "harbour", "none" if row == "changed" else 987654321)
    for method, said in (("get", get), ("post", post)):
        expected = 405 if said.split()[-1] == "405" else 404
        assert (method, answer(browsers["owner"], method, path)) == (method, expected)


def test_a_person_of_both_teams_reaches_each_only_by_its_own_address(cast, rows, sign_in):
    Member.objects.create(team=cast.other_team, user=cast.member.user, role=Role.OWNER)
    browser = sign_in(cast.member)
    assert answer(browser, "get", address("lead", "harbour", rows["lead"])) == 200
    assert answer(browser, "get", address("lead", "quarry", rows["lead"])) == 404

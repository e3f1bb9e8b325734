"""Who gets what at every address: written by hand, tried one by one.

In each line stand the answers to: nobody, a stranger, the other team's owner, a reader, a member,
an owner. Nobody is sent to sign in; who is not in the team finds nothing; who may not is refused;
an empty form comes back with its errors (422), a button leads on (302), and what is there only to
be read, or only to be pressed, says so (405).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from pipeline.teams.models import Member, Role
from tests.access.everything import (
    address,
    one_of_each,
    outside_addresses,
    outside_paths,
    team_addresses,
)
from tests.conftest import Cast

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

EVERYBODY = "200 200 200 200 200 200"
NO_SUCH_METHOD = "405 405 405 405 405 405"
NOT_THERE = "404 404 404 404 404 404"
LED_ON = "302 302 302 302 302 302"
EMPTY_FOR_ALL = "422 422 422 422 422 422"
ONES_OWN_READ = "302 200 200 200 200 200"
ONES_OWN_READ_ONLY = "302 405 405 405 405 405"
ONES_OWN_FORM = "302 422 422 422 422 422"

# Where what may not be pressed is told before who may press.
OTHER_METHODS = {"team-logo": READ_ONLY}

# Addresses outside any team: the answers to GET, to an empty POST, and to other methods where
# these are told anything but that there is no such thing. A token leads to a row of ours.
OUTSIDE: dict[str, tuple[str, ...]] = {
    # for machines; the numbers are for whoever has their token alone
    "healthz": (EVERYBODY, NO_SUCH_METHOD),
    "readyz": (EVERYBODY, NO_SUCH_METHOD),
    "metrics": (NOT_THERE, NO_SUCH_METHOD),
    # the way in, and out; whoever is in already is led on
    "None": (LED_ON, LED_ON, LED_ON),
    "sign-in": (*["200 302 302 302 302 302"] * 2, "405 302 302 302 302 302"),
    "sign-in-code": (LED_ON, LED_ON),
    "sign-in-link": (EVERYBODY, EVERYBODY),
    "sign-out": (ONES_OWN_READ_ONLY, LED_ON, ONES_OWN_READ_ONLY),
    "forgotten": (EVERYBODY, EMPTY_FOR_ALL),
    "reset": (EVERYBODY, EVERYBODY),
    # whose invitation it is has no account yet; others are told so
    "join": ("200 403 403 403 403 403", "422 403 403 403 403 403"),
    # of oneself; whoever is in one team is led into it
    "teams": ("302 200 302 302 302 302", ONES_OWN_READ_ONLY, ONES_OWN_READ_ONLY),
    "account": (ONES_OWN_READ, ONES_OWN_READ_ONLY, ONES_OWN_READ_ONLY),
    "account-name": (
        ONES_OWN_READ_ONLY,
        # nothing tells what the name was
        "302 409 409 409 409 409",
        ONES_OWN_READ_ONLY,
    ),
    "account-address": (ONES_OWN_READ, ONES_OWN_FORM, ONES_OWN_READ_ONLY),
    # the link is the stranger's: to others it is over
    "account-address-is-mine": (
        "302 200 410 410 410 410",
        "302 302 410 410 410 410",
        ONES_OWN_READ_ONLY,
    ),
    "account-password": (ONES_OWN_READ, ONES_OWN_FORM, ONES_OWN_READ_ONLY),
    "account-end-elsewhere": (ONES_OWN_READ_ONLY, LED_ON, ONES_OWN_READ_ONLY),
    "second-factor": (ONES_OWN_READ, ONES_OWN_FORM, ONES_OWN_READ_ONLY),
    # whoever has none is led to where it is set up
    "second-factor-codes": (LED_ON, LED_ON, ONES_OWN_READ_ONLY),
    "second-factor-off": (LED_ON, LED_ON, ONES_OWN_READ_ONLY),
    # what a team shows to those who know the address
    "enquire": (EVERYBODY, EMPTY_FOR_ALL),
    "enquiry-sent": (EVERYBODY, NO_SUCH_METHOD),
    "feed-file": (EVERYBODY, NO_SUCH_METHOD),
    "shared": (EVERYBODY, EMPTY_FOR_ALL),
    "shared-file": (EVERYBODY, NO_SUCH_METHOD),
    "stop-letters": (EVERYBODY, LED_ON),
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
    before, cookies = transaction.savepoint(), browser.cookies.copy()
    # Every form of ours brings its token; nothing else is filled in.
    typed = {"csrfmiddlewaretoken": "token"} if method == "post" else {}
    response = getattr(browser, method)(path, typed)
    # A stream reads its rows only when it is read.
    _ = b"".join(response) if response.streaming else response.content
    transaction.savepoint_rollback(before)
    browser.cookies = cookies
    return int(response.status_code)


def test_every_address_of_a_team_has_its_line():
    assert sorted(TABLE) == sorted(str(pattern.name) for pattern in team_addresses())


def test_every_address_of_a_team_goes_through_the_door():
    assert [p.name for p in team_addresses() if not hasattr(p.callback, "needs")] == []


def test_every_address_outside_any_team_has_its_line():
    assert sorted(OUTSIDE) == sorted(str(pattern.name) for pattern in outside_addresses())


SAME_AS_GET = {("head", "reader", "200"), ("head", "member", "200")}


def matrix(cast: Cast, rows: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """Yield each address with its path, a method, and what everybody is to be answered."""
    outside = outside_paths(cast, rows)
    for name, (get, post, *others) in OUTSIDE.items():
        for method, said in (("get", get), ("head", get), ("post", post)):
            yield name, outside[name], method, said
        for method in ("put", "delete"):
            yield name, outside[name], method, others[0] if others else NO_SUCH_METHOD
    for name, (row, get, post) in TABLE.items():
        path = address(name, "harbour", rows[row] if row else None)
        # Who may send a form is told that there is no such method; who may not, that as before.
        kept_out = ["302", *(a if a in ("403", "404") else "405" for a in post.split()[1:])]
        for method, said in (("get", get), ("head", get), ("post", post)):
            yield name, path, method, said
        for method in ("put", "delete"):
            yield name, path, method, OTHER_METHODS.get(name, " ".join(kept_out))


def test_everybody_gets_what_stands_in_the_table(cast, rows, browsers):
    """Prints the whole matrix: with ``-s``, and where it fails."""
    wrong = 0
    sys.stdout.write(f"\n{'':<34}{' '.join(PEOPLE)}\n")
    for name, path, method, said in matrix(cast, rows):
        # A page is made for HEAD as for GET: there the owner stands for whoever may read.
        found = " ".join(
            "200"
            if (method, who, code) in SAME_AS_GET
            else str(answer(browsers[who], method, path))
            for who, code in zip(PEOPLE, said.split(), strict=True)
        )
        beside = "" if found == said else f"   but the table says {said}"
        sys.stdout.write(f"{name:<26}{method.upper():<8}{found}{beside}\n")
        wrong += found != said
    assert wrong == 0


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

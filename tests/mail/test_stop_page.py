"""Whoever gets a letter stops the rest of its list: asked once, without signing in, with undo."""

import pytest
from django.core import signing
from django.test import Client

from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter, StoppedAddress, Stops
from pipeline.mail.outbox import write
from pipeline.mail.stopping import signer, stop_link
from tests.conftest import NOW
from tests.mail.letters import letter_to

pytestmark = pytest.mark.django_db

ONE_CLICK = {"List-Unsubscribe": "One-Click"}
OF_MEMBERS = ["digest", "review", "reminders", "notes"]


@pytest.fixture
def browser():
    """A browser that would be turned away without a token where one is asked for."""
    return Client(enforce_csrf_checks=True)


@pytest.fixture
def path(settings):
    return lambda letter: stop_link(letter).removeprefix(settings.BASE_URL)


@pytest.fixture
def letter(cast):
    """A letter of the team that waits to go to somebody outside it."""
    return write(
        team=cast.team,
        key="to a lead",
        to="ida@fernwick.example",
        stops=Stops.LETTERS,
        subject="How is it going?",
        text="Good day.",
        due_at=NOW,
    )


def wanted(member):
    member.refresh_from_db()
    return {name: getattr(member, f"wants_{name}") for name in OF_MEMBERS}


@pytest.mark.parametrize("stops", OF_MEMBERS)
def test_a_member_stops_that_list_alone_and_takes_it_back(cast, browser, path, stops):
    page = path(letter_to(cast.member, stops=stops))
    question = browser.get(page)
    assert f"Stop {Stops(stops).label} from Harbour Studio?" in question.text
    assert all(wanted(cast.member).values())

    stopped = browser.post(page, {"stop": ""}, follow=True)
    assert f"You get {Stops(stops).label} from Harbour Studio no more." in stopped.text
    assert [name for name, wants in wanted(cast.member).items() if not wants] == [stops]
    assert all(wanted(cast.owner).values())

    again = browser.post(page, {"again": ""}, follow=True)
    assert "Nothing has changed yet" in again.text
    assert all(wanted(cast.member).values())


@pytest.mark.parametrize("kind", ["urlencoded", "multipart"])
def test_a_mail_program_stops_it_in_one_click_without_cookie_or_redirect(
    cast, browser, path, kind
):
    """As in RFC 8058, 3.1 and 3.2: both kinds of form, no cookie, no redirect."""
    page = path(letter_to(cast.member, stops="digest"))
    if kind == "urlencoded":
        form = "List-Unsubscribe=One-Click"
        answer = browser.post(page, form, content_type="application/x-www-form-urlencoded")
    else:
        answer = browser.post(page, ONE_CLICK)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/plain")
    assert answer.text == "Stopped: the daily digest from Harbour Studio.\n"
    assert not wanted(cast.member)["digest"]
    assert browser.post(page, ONE_CLICK).status_code == 200
    assert not wanted(cast.member)["digest"]


def test_somebody_outside_the_team_is_written_to_no_more(cast, browser, path, letter):
    browser.post(path(letter), {"stop": ""})
    browser.post(path(letter), {"stop": ""})
    row = StoppedAddress.objects.get()
    assert (row.team, row.stopped_at, row.by) == (cast.team, NOW, None)
    assert "ida" not in row.address
    assert StoppedAddress.objects.has(cast.team, "Ida@Fernwick.example")
    assert not StoppedAddress.objects.has(cast.other_team, "ida@fernwick.example")
    deliver(NOW)
    letter.refresh_from_db()
    assert (letter.sent_at, letter.withheld_at) == (None, NOW)

    browser.post(path(letter), {"again": ""})
    assert not StoppedAddress.objects.exists()


def test_what_a_member_noted_for_them_is_not_undone_by_the_link(cast, browser, path, letter):
    browser.post(path(letter), {"stop": ""})
    StoppedAddress.objects.update(by=cast.owner)
    page = browser.post(path(letter), {"again": ""}, follow=True)
    assert "noted that you want none" in page.text
    assert "Undo" not in page.text
    assert StoppedAddress.objects.exists()


def test_opening_the_page_by_whatever_safe_means_changes_nothing(cast, browser, path, letter):
    letters = [letter_to(cast.member, key=name, stops=name) for name in OF_MEMBERS]
    for page in map(path, [*letters, letter]):
        for ask in (browser.get, browser.head):
            answer = ask(page)
            assert answer.status_code == 200
            assert "no-store" in answer["Cache-Control"]
        assert browser.options(page).status_code == 405
    assert all(wanted(cast.member).values())
    assert not StoppedAddress.objects.exists()


def test_a_form_that_says_nothing_changes_nothing(cast, browser, path):
    page = path(letter_to(cast.member, stops="digest"))
    for form in ({}, {"List-Unsubscribe": "Two-Clicks"}):
        assert "Nothing has changed yet" in browser.post(page, form, follow=True).text
    assert wanted(cast.member)["digest"]


@pytest.mark.parametrize(
    "said",
    [
        "not a list",
        [],
        [1, "digest", 1],
        [1, "everything", 1, ""],
        [1, "digest", None, ""],
        [0, "digest", 1, ""],
        {"a": 1},
    ],
)
def test_a_link_that_says_nothing_known_is_a_plain_page(cast, browser, said):
    for ask in (browser.get, browser.head, lambda page: browser.post(page, ONE_CLICK)):
        answer = ask(f"/stop/{signer.sign_object(said)}/")
        assert answer.status_code == 404
    assert "This link leads nowhere" in browser.get(f"/stop/{signer.sign_object(said)}/").text


@pytest.mark.parametrize("token", ["x", "a:b", "é:ß", "%00", ":", "W10:" + "x" * 3000])
def test_a_token_of_somebody_elses_making_is_a_plain_page(db, browser, token):
    assert browser.get(f"/stop/{token}/").status_code == 404
    assert browser.post(f"/stop/{token}/", ONE_CLICK).status_code == 404


def test_a_token_signed_for_something_else_stops_nothing(cast, browser):
    said = [cast.team.pk, "digest", cast.member.pk, ""]
    token = signing.Signer(salt="something else").sign_object(said)
    assert browser.post(f"/stop/{token}/", ONE_CLICK).status_code == 404
    assert wanted(cast.member)["digest"]


def test_a_member_of_another_team_is_out_of_reach(cast, browser):
    token = signer.sign_object([cast.team.pk, "digest", cast.other_owner.pk, ""])
    browser.post(f"/stop/{token}/", ONE_CLICK)
    assert wanted(cast.other_owner)["digest"]


def test_the_link_names_no_address(cast, path):
    letter = Letter(team=cast.team, member=cast.member, to=cast.member.user.email, stops="digest")
    said = signer.unsign_object(path(letter).split("/")[2])
    assert "mateus" not in str(said)

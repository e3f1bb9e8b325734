"""One's own account: name, address, password; and what was changed is told by letter."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.clock import moment
from pipeline.mail.models import Letter
from pipeline.teams.models import User
from tests.accounts.people import OTHER, PASSWORD, link_in, sign_in_with, with_password
from tests.conftest import NOW
from tests.followups.queries import tables

NEW = "mateus@estuary.example"


@pytest.fixture
def mateus(cast):
    return with_password(cast.member.user)


@pytest.fixture
def browser(mateus):
    client = Client()
    sign_in_with(client, mateus.email)
    return client


def ask_for(browser, email: str = NEW, password: str = PASSWORD):
    return browser.post(reverse("account-address"), {"email": email, "password": password})


def stored(mateus) -> User:
    return User.objects.get(pk=mateus.pk)


def test_the_page_takes_these_queries(browser):
    assert tables(lambda: browser.get(reverse("account"))) == [
        "django_session",
        "teams_user",
        "teams_member",
        "django_session",
        "accounts_recoverycode",
    ]


@pytest.mark.parametrize(
    "name",
    ["account", "account-address", "account-password", "second-factor", "teams"],
)
def test_nobody_sees_an_account_without_signing_in(db, client, name):
    assert client.get(reverse(name)).url.startswith(reverse("sign-in"))


def test_a_name_is_changed(browser, mateus):
    typed = {"name": " Mateus C. ", "was": "Mateus Coelho"}
    for _ in range(2):
        page = browser.post(reverse("account-name"), typed, follow=True)
        assert "Your name is saved." in page.text
        assert stored(mateus).name == "Mateus C."


def test_of_two_pens_the_second_is_told_and_what_was_typed_stays(browser, mateus):
    browser.post(reverse("account-name"), {"name": "First", "was": "Mateus Coelho"})
    typed = {"name": "Second", "was": "Mateus Coelho"}
    page = browser.post(reverse("account-name"), typed)
    assert page.status_code == 409
    assert "Meanwhile it was changed to “First”" in page.text
    assert 'value="Second"' in page.text
    assert stored(mateus).name == "First"
    again = {"name": "Second", "was": page.context["form"]["was"].value()}
    assert browser.post(reverse("account-name"), again).status_code == 302
    assert stored(mateus).name == "Second"


def test_another_address_holds_once_its_letter_was_answered(browser, mateus, by_mail):
    assert ask_for(browser).status_code == 302
    assert stored(mateus).email == "mateus@harbour.example"
    letter = Letter.objects.get(to=NEW)
    assert letter.private
    link = link_in(letter)
    assert browser.get(link).status_code == 200
    assert stored(mateus).email == "mateus@harbour.example"
    browser.post(link)
    assert stored(mateus).email == NEW
    told = Letter.objects.get(to="mateus@harbour.example")
    assert f"your address is {NEW} now" in told.text
    assert browser.get(link).status_code == 410
    assert sign_in_with(Client(), NEW).status_code == 302
    assert sign_in_with(Client(), "mateus@harbour.example").status_code == 200


def test_the_link_is_for_the_person_who_asked_and_for_a_day(browser, cast, sign_in, by_mail):
    ask_for(browser)
    link = link_in(Letter.objects.get(to=NEW))
    assert Client().post(link).url.startswith(reverse("sign-in"))
    assert sign_in(cast.owner).post(link).status_code == 410
    with moment.stopped(NOW + timedelta(days=1)):
        assert browser.post(link).status_code == 410
    assert not User.objects.filter(email=NEW).exists()


def test_whether_another_has_the_address_is_not_told_when_it_is_asked_for(browser, cast, by_mail):
    taken = cast.other_owner.user.email
    answers = []
    for email in (NEW, taken):
        answer = ask_for(browser, email)
        words = browser.get(answer.url).text.split("<main")[1]
        answers.append((answer.status_code, words.replace(email, "ADDRESS").count("ADDRESS")))
    assert answers[0] == answers[1]
    page = browser.post(link_in(Letter.objects.get(to=taken)), follow=True)
    assert "This address can&#x27;t be used here" in page.text
    assert User.objects.filter(email=taken).count() == 1


def test_without_mail_the_address_holds_at_once_unless_it_is_taken(browser, mateus, cast):
    taken = ask_for(browser, cast.owner.user.email.upper())
    assert taken.status_code == 422
    assert ask_for(browser).status_code == 302
    assert stored(mateus).email == NEW


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"email": "nobody"}, "email"),
        ({"email": "mateus@harbour.example"}, "email"),
        ({"password": "a guess"}, "password"),
        ({"password": ""}, "password"),
    ],
)
def test_a_wrong_form_names_the_field_and_changes_nothing(browser, mateus, by_mail, typed, field):
    answer = ask_for(browser, **{"email": NEW, **typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not Letter.objects.exists()


def test_guessing_the_password_in_an_open_browser_is_slowed(browser, mateus):
    for _ in range(5):
        assert ask_for(browser, password="a guess").status_code == 422
    page = ask_for(browser)
    assert "Too many attempts" in page.text
    assert stored(mateus).email == "mateus@harbour.example"


def test_another_password_is_told_by_letter_and_a_weak_one_refused(browser, mateus, by_mail):
    url = reverse("account-password")
    weak = {"password": PASSWORD, "new_password1": "short", "new_password2": "short"}
    assert browser.post(url, weak).status_code == 422
    right = {"password": PASSWORD, "new_password1": OTHER, "new_password2": OTHER}
    assert browser.post(url, right).status_code == 302
    assert stored(mateus).check_password(OTHER)
    (letter,) = Letter.objects.all()
    assert (letter.to, letter.private) == (mateus.email, True)


def test_who_is_in_no_team_gets_no_letter_and_no_error(cast, sign_in, by_mail):
    with_password(cast.stranger)
    browser = sign_in(cast.stranger)
    assert ask_for(browser).status_code == 302
    assert not Letter.objects.exists()

"""Pages for what went wrong: they help, look like the rest, and tell nothing of the inside."""

import pytest
from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest
from django.test import Client, override_settings
from django.urls import path, reverse

SECRET = "the row of somebody else"


def broken(request: HttpRequest) -> None:
    raise RuntimeError(SECRET)


def malformed(request: HttpRequest) -> None:
    raise SuspiciousOperation(SECRET)


from pipeline.urls import urlpatterns as real  # noqa: E402

urlpatterns = [*real, path("broken/", broken), path("malformed/", malformed)]


@pytest.fixture
def browser(cast, sign_in) -> Client:
    client = sign_in(cast.reader)
    client.raise_request_exception = False
    return client


@pytest.mark.parametrize(
    ("address", "status", "heading"),
    [
        ("/nothing/here/", 404, "Nothing is here"),
        ("/t/quarry/team/", 404, "Nothing is here"),
        ("/t/no-such-team/team/", 404, "Nothing is here"),
        ("/t/harbour/team/settings/", 403, "Your role does not allow this"),
        ("/broken/", 500, "Something broke"),
        ("/malformed/", 400, "This could not be read"),
    ],
)
@override_settings(ROOT_URLCONF=__name__)
def test_an_error_has_a_page_that_helps_and_leads_on(browser, address, status, heading):
    answer = browser.get(address)
    page = answer.content.decode()
    assert answer.status_code == status
    assert f"<h1>{heading}</h1>" in page
    assert reverse("teams") in page
    assert "app.css" in page
    for inside in (SECRET, "Traceback", "Resolver", "RuntimeError", "Quarry Works"):
        assert inside not in page


def test_a_strangers_page_is_the_same_for_a_team_that_is_and_one_that_is_not(cast, sign_in):
    browser = sign_in(cast.stranger)
    there = browser.get("/t/quarry/team/").content.decode()
    nowhere = browser.get("/t/no-such-team/team/").content.decode()
    token = r'name="csrfmiddlewaretoken" value="'
    assert [part.split('"', 1)[-1] for part in there.split(token)] == [
        part.split('"', 1)[-1] for part in nowhere.split(token)
    ]


def test_a_page_for_another_host_is_refused(client):
    assert client.get("/sign-in/", headers={"host": "elsewhere.example"}).status_code == 400

"""The link that a lead may pass on: nobody guesses it, the team can end it, openings count."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from pipeline.clock import moment
from sessions.models import Opening, SharedTakeaway
from sessions.takeaways.sending import send
from sessions.takeaways.setting import set_takeaway
from tests.conftest import NOW, TODAY
from tests.sessions.pages import at, said


@pytest.fixture
def shared(cast, heard) -> SharedTakeaway:
    return send(
        session=heard,
        member=cast.member,
        now=NOW,
        to=["ida@fernwick.example"],
        subject="Your takeaway",
        words="Here it is.",
        document=set_takeaway(heard),
        seen=0,
    )


@pytest.fixture
def page(shared) -> str:
    return reverse("shared", args=[shared.token])


def press(browser: Client, page: str, key: str = ""):
    return browser.post(page, {"submission": key or str(uuid.uuid4())})


def test_whoever_has_the_link_opens_the_file_without_an_account(client, shared, page, heard):
    answer = client.get(page)
    assert answer.status_code == 200
    assert "Fernwick Library" in answer.content.decode()
    answer = press(client, page)
    assert answer.url == reverse("shared-file", args=[shared.token])
    file = client.get(answer.url)
    assert file["Content-Type"] == "application/pdf"
    assert b"".join(file.streaming_content) == set_takeaway(heard).pdf


def test_no_other_site_and_no_search_engine_is_told_of_it(client, shared, page):
    file = client.get(reverse("shared-file", args=[shared.token]))
    for answer in (client.get(page), file):
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        assert "no-store" in answer["Cache-Control"]
    assert b"".join(file.streaming_content).startswith(b"%PDF-")


def test_links_are_long_and_each_is_another(shared):
    tokens = {SharedTakeaway._meta.get_field("token").get_default() for _ in range(100)}
    assert len(tokens) == 100
    assert min(map(len, tokens)) == 43  # 256 bits, six to a character
    assert shared.token not in shared.file.name


@pytest.mark.parametrize("token", ["x", "0", "a" * 43, "é", "%00"])
def test_a_wrong_link_finds_nothing(client, shared, token):
    for name in ("shared", "shared-file"):
        assert client.get(reverse(name, args=[token])).status_code == 404
        assert client.post(reverse(name, args=[token])).status_code in (404, 405)


def test_looking_writes_nothing_and_a_machine_that_follows_links_is_not_counted(
    client, shared, page
):
    with CaptureQueriesContext(connection) as asked:
        client.get(page)
        client.head(page)
        b"".join(client.get(reverse("shared-file", args=[shared.token])).streaming_content)
    assert asked
    assert not [q for q in asked if not q["sql"].lstrip().upper().startswith("SELECT")]
    assert not Opening.objects.exists()


def test_openings_are_counted_by_the_teams_day_and_nothing_is_known_of_who(
    cast, sign_in, heard, page
):
    late = NOW.replace(hour=23, minute=59)
    with moment.stopped(late):
        for browser in (Client(), Client()):
            press(browser, page)
    with moment.stopped(late + timedelta(minutes=2)):
        press(Client(), page)
    counted = list(Opening.objects.values_list("day", "times"))
    assert counted == [(TODAY, 2), (TODAY + timedelta(days=1), 1)]
    fields = {field.name for field in Opening._meta.get_fields()}
    assert fields == {"id", "team", "shared", "day", "times"}
    text = sign_in(cast.reader).get(at(cast.team, "takeaway", heard.pk)).content.decode()
    assert "Opened 3 times: 2 on Tue 3 Mar 2026, 1 on Wed 4 Mar 2026" in text


def test_a_double_click_is_one_opening(client, page):
    key = str(uuid.uuid4())
    first, second = press(client, page, key), press(client, page, key)
    assert first.url == second.url
    assert Opening.objects.get().times == 1


def test_a_button_without_its_key_counts_nothing(client, page):
    assert client.post(page).status_code == 422
    assert not Opening.objects.exists()


def test_an_ended_link_leads_nowhere_and_the_second_click_changes_nothing(
    cast, sign_in, shared, page
):
    browser, end = sign_in(cast.member), at(cast.team, "shared-end", shared.pk)
    browser.post(end)
    with moment.stopped(NOW + timedelta(hours=1)):
        again = sign_in(cast.owner).post(end, follow=True)
    assert "ended already" in said(again)[-1]
    shared.refresh_from_db()
    assert (shared.ended_at, shared.ended_by) == (NOW, cast.member)
    for answer in (
        Client().get(page),
        press(Client(), page),
        Client().get(reverse("shared-file", args=[shared.token])),
    ):
        assert answer.status_code == 410
        assert "This link has ended" in answer.content.decode()
    assert not Opening.objects.exists()


def test_a_file_that_is_gone_from_the_disk_is_not_found_and_no_crash(client, shared):
    shared.file.storage.delete(shared.file.name)
    assert client.get(reverse("shared-file", args=[shared.token])).status_code == 404

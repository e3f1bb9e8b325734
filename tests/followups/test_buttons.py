"""The buttons of a follow-up, with and without JavaScript."""

from datetime import date

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse

from pipeline.followups.models import FollowUp
from tests.factories import FollowUpFactory, LeadFactory
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def row(cast):
    return FollowUpFactory(lead=LeadFactory(team=cast.team), action="Write")


@pytest.fixture
def post(cast, sign_in, row):
    client = sign_in(cast.member)

    def posted(button, *, headers=None, **data):
        url = reverse(f"follow-up-{button}", args=[cast.team.slug, row.pk])
        return client.post(url, data, headers=headers)

    posted.client = client
    return posted


def said(response):
    return [str(message) for message in get_messages(response.wsgi_request)]


def test_done_leads_back_to_the_page_of_the_button(post, row):
    response = post("done", back="/t/harbour/?whose=everybody")
    assert response["Location"] == "/t/harbour/?whose=everybody"
    assert said(response) == ["Done: Write."]
    row.refresh_from_db()
    assert row.state == "done"


def test_the_second_click_says_what_happened(post):
    post("done")
    assert said(post("done"))[-1] == (
        "Write: it was already done by Mateus Coelho on 3 Mar 2026. Nothing changed."
    )


def test_a_list_that_sent_the_button_gets_itself_back_with_what_was_said(post, cast):
    response = post("done", headers=HTMX, back="/t/harbour/")
    # A browser follows by itself and sends the header along.
    part = post.client.get(response["Location"], headers=HTMX).text
    assert "Done: Write." in part
    assert 'id="due"' in part
    assert "<!doctype html>" not in part


@pytest.mark.parametrize(
    "back",
    ["https://elsewhere.example/t/harbour/", "//elsewhere.example/", "/t/quarry/", "javascript:x"],
)
def test_nobody_is_led_out_of_the_team(post, row, back):
    assert post("done", back=back)["Location"] == f"/t/harbour/follow-ups/{row.pk}/"


def test_to_put_off_tells_of_a_day_on_which_nobody_works(post, row):
    response = post("put-off", until="2026-03-07", version=1)
    assert said(response) == ["Write: put off until 9 Mar 2026. Nobody works on 7 Mar 2026."]
    row.refresh_from_db()
    assert row.due_on == date(2026, 3, 9)


@pytest.mark.parametrize(
    ("button", "wrong", "told"),
    [
        ("put-off", {"until": "2026-03-03", "version": 1}, "Choose a day after today."),
        ("put-off", {"until": "31.4.", "version": 1}, "Enter a valid date."),
        ("put-off", {"until": "2026-03-10"}, "This field is required."),
        ("give", {"owner": "", "version": 1}, "This field is required."),
        ("give", {"owner": "999999", "version": 1}, "Select a valid choice."),
        ("drop", {"reason": " "}, "This field is required."),
    ],
)
def test_what_is_refused_is_told_at_its_field_and_kept(post, button, wrong, told):
    response = post(button, **wrong)
    assert response.status_code == 422
    assert told in response.text
    if wrong.get("until"):
        assert f'value="{wrong["until"]}"' in response.text


def test_a_refusal_in_a_list_opens_the_follow_ups_page_with_what_was_typed(post, row):
    response = post("put-off", headers=HTMX, until="2026-03-02", version=1, back="/t/harbour/")
    assert response.status_code == 200
    assert response["HX-Retarget"] == "#main"
    assert response["HX-Push-Url"] == f"/t/harbour/follow-ups/{row.pk}/"
    assert 'value="2026-03-02"' in response.text


def test_it_is_given_to_somebody_else(post, row, cast):
    assert said(post("give", owner=cast.owner.pk, version=1)) == [
        "Write: Olive Brandt has it now."
    ]
    row.refresh_from_db()
    assert row.owner == cast.owner


def test_a_reader_is_none_of_those_it_is_given_to(post, row, cast):
    assert post("give", owner=cast.reader.pk, version=1).status_code == 422


def test_a_dropped_one_is_opened_again(post, row):
    post("drop", reason="They moved away")
    assert said(post("undo"))[-1] == "Open again: Write."
    assert "open already" in said(post("undo"))[-1]
    row.refresh_from_db()
    assert (row.state, row.reason) == ("open", "")


def test_a_form_posted_twice_adds_one_follow_up(cast, sign_in, row):
    client = sign_in(cast.member)
    url = reverse("follow-up-new", args=[cast.team.slug, row.lead.pk])
    data = {
        "submission": "5f0c1b9e-6f0e-4d5c-9d0e-0d5a2f6d7c11",
        "action": "Call",
        "due_on": "2026-03-10",
        "owner": cast.member.pk,
    }
    for _ in range(2):
        response = client.post(url, data)
        assert response["Location"] == reverse("lead", args=[cast.team.slug, row.lead.pk])
    assert FollowUp.objects.filter(action="Call").count() == 1


def test_the_second_of_two_who_edit_sees_both_versions(cast, sign_in, row):
    url = reverse("follow-up", args=[cast.team.slug, row.pk])
    data = {
        "version": 1,
        "due_on": "2026-03-10",
        "owner": "",
        "initial-action": "Write",
        "initial-due_on": "2026-03-03",
        "initial-owner": "",
    }
    first = sign_in(cast.owner).post(url, {**data, "action": "Call them"})
    assert first.status_code == 302
    second = sign_in(cast.member).post(url, {**data, "action": "Visit them"})
    assert second.status_code == 409
    assert "Call them" in second.text
    assert "Visit them" in second.text
    row.refresh_from_db()
    assert row.action == "Call them"


def test_a_wrong_edit_loses_nothing_typed(cast, sign_in, row):
    url = reverse("follow-up", args=[cast.team.slug, row.pk])
    page = sign_in(cast.member).post(
        url, {"version": 1, "action": "Visit them", "due_on": "2026-03-01", "owner": ""}
    )
    assert page.status_code == 422
    assert "Choose today or a day ahead." in page.text
    assert "Visit them" in page.text


@pytest.mark.parametrize("state", ["open", "done", "dropped", "ended"])
def test_its_page_tells_what_became_of_it(cast, sign_in, row, state):
    closed = {"closed_on": date(2026, 3, 3)} if state != "open" else {}
    FollowUp.objects.update(state=state, reason="engaged on 3 Mar 2026", **closed)
    url = reverse("follow-up", args=[cast.team.slug, row.pk])
    page = sign_in(cast.member).get(url).text
    assert {"open": "Due Tue 3 Mar 2026", "ended": "ended by itself"}.get(state, state) in page
    assert ("/undo/" in page) == (state in ("done", "dropped"))


def test_its_pages_queries_are_these(cast, sign_in, row):
    client = sign_in(cast.member)
    url = reverse("follow-up", args=[cast.team.slug, row.pk])
    expected = [
        "django_session",
        "teams_user",
        "teams_member",
        "followups_followup",
        "followups_leadletter",
        "teams_member",  # those it may be given to
        "teams_member",  # those who may own it
    ]
    assert tables(lambda: client.get(url)) == expected
    for _ in range(5):
        FollowUpFactory(lead=row.lead, owner=cast.owner)
    assert tables(lambda: client.get(url)) == expected

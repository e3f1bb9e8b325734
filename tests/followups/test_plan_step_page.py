"""The pages on which a team edits its plan and lets it hold for what is open."""

import re
from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse

from pipeline.clock import moment
from pipeline.followups.models import FollowUp, PlanEdition, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.followups.views import plan as plan_views
from pipeline.leads.models import Lead
from pipeline.leads.settle import settle
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory, ProposalFactory
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture(autouse=True)
def later(cast):
    ensure_plan(cast.team)
    lead = LeadFactory(team=cast.team, organisation="Alderwick Dairy")
    ProposalFactory(lead=lead, sent_on=TODAY)
    settle(cast.team, [lead.pk], now=NOW)
    with moment.stopped(LATER):
        yield


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


def url(name, *row):
    return reverse(name, args=["harbour", *row])


def step_of(cast, trigger="proposal sent"):
    return PlanStep.objects.current(cast.team).filter(trigger=trigger).first()


def opened(page):
    """Return what the form of a page holds, as a browser would post it."""
    form = re.search(r'<form id="form".*?</form>', page, re.DOTALL)[0]
    data = dict(re.findall(r'<input[^>]* name="([\w-]+)" value="([^"]*)"', form))
    data |= dict(
        re.findall(r'<textarea[^>]* name="([\w-]+)"[^>]*>\n?(.*?)</textarea>', form, re.S)
    )
    for name, options in re.findall(r'<select name="([\w-]+)".*?>(.*?)</select>', form, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        data[name] = chosen[1] if chosen else ""
    return data


def said(response):
    return [str(message) for message in get_messages(response.wsgi_request)]


def test_a_changed_step_leads_to_what_would_move_and_back_to_the_plan(browser, cast):
    page = url("plan-step", step_of(cast).pk)
    response = browser.post(page, opened(browser.get(page).text) | {"count": "5"})
    assert response["Location"] == url("plan-changes")
    assert said(response) == ["The plan is changed."]
    shown = browser.get(url("plan-changes")).text
    assert "Tue 10 Mar 2026<br>was Tue 17 Mar 2026" in shown
    assert "Alderwick Dairy" in shown
    assert "1 open follow-up moves" in shown
    plan = browser.get(url("plan")).text
    assert "5 working days later" in plan
    assert "See what would move" in plan
    assert "Mateus Coelho changed it last: Tue 3 Mar 2026, 10:00." in plan
    assert FollowUp.objects.get().due_on.isoformat() == "2026-03-17"


def test_the_button_moves_what_was_shown_and_the_page_has_nothing_more_to_show(browser, cast):
    page = url("plan-step", step_of(cast).pk)
    browser.post(page, opened(browser.get(page).text) | {"count": "5"})
    response = browser.post(url("plan-move"), {"number": "2"})
    assert response["Location"] == url("plan")
    assert said(response)[-1] == "The plan holds for older facts too. Open follow-ups: 1 moved."
    assert FollowUp.objects.get().due_on.isoformat() == "2026-03-10"
    assert "See what would move" not in browser.get(url("plan")).text
    assert "No open follow-up goes by an earlier plan." in browser.get(url("plan-changes")).text
    again = browser.post(url("plan-move"), {"number": "2"})
    assert said(again)[-1].endswith("No open follow-up was changed.")


def test_a_plan_that_changed_since_it_was_shown_is_not_moved(browser, cast):
    for count in ("5", "6"):
        page = url("plan-step", step_of(cast).pk)
        browser.post(page, opened(browser.get(page).text) | {"count": count})
    for number, words in (("2", "changed the plan meanwhile"), ("x", "which plan it was about")):
        response = browser.post(url("plan-move"), {"number": number})
        assert response["Location"] == url("plan-changes")
        assert words in said(response)[-1]
    assert FollowUp.objects.get().due_on.isoformat() == "2026-03-17"


def test_a_new_step_is_added_once_after_the_fact_whose_link_was_taken(browser, cast):
    page = url("plan-step-new") + "?after=gone%20quiet"
    data = opened(browser.get(page).text)
    assert data["trigger"] == "gone quiet"
    data |= {"action": "Send a card", "count": "1", "unit": "months", "times": "3"}
    for _ in range(2):
        assert browser.post(page, data)["Location"] == url("plan-changes")
    assert [s.position for s in PlanStep.objects.current(cast.team).filter(action="Send a card")]
    assert PlanEdition.objects.count() == 2
    assert "every month, at most 3 times" in browser.get(url("plan")).text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"action": ""}, "This field is required."),
        ({"count": "-1"}, "greater than or equal to 0"),
        ({"count": "many"}, "Enter a whole number."),
        ({"times": "25"}, "less than or equal to 24"),
        ({"count": "0", "times": "2"}, "What comes again needs at least 1 in between."),
        ({"letter_text": ""}, "Give the letter a text, or leave its subject empty too."),
        ({"letter_subject": "Dear {name}"}, "Nothing is known to fill in for {name}"),
    ],
)
def test_what_no_plan_can_hold_is_said_beside_its_field_and_what_was_typed_is_kept(
    browser, cast, typed, words
):
    page = url("plan-step", step_of(cast).pk)
    data = opened(browser.get(page).text) | {"action": "Ring the mill"} | typed
    response = browser.post(page, data)
    assert response.status_code == 422
    assert words in response.text
    assert 'role="alert"' in response.text
    kept = opened(response.text)
    assert {name: kept.get(name, "") for name in typed} == typed
    assert PlanEdition.objects.count() == 1


def test_only_after_no_budget_yet_is_money_expected(browser, cast):
    page = url("plan-step-new")
    data = opened(browser.get(page).text) | {
        "trigger": "declined",
        "action": "Write",
        "count": "2",
        "unit": "weeks before funding",
    }
    response = browser.post(page, data)
    assert response.status_code == 422
    assert "Money is expected only after “no budget yet”" in response.text
    with_money = browser.get(url("plan-step", step_of(cast, "no budget yet").pk)).text
    assert "weeks before money is expected" in with_money
    without = browser.get(url("plan-step", step_of(cast).pk)).text
    assert "weeks before money is expected" not in without


def test_the_second_of_two_who_edit_one_step_sees_both_and_keeps_what_was_typed(
    browser, cast, sign_in
):
    page = url("plan-step", step_of(cast).pk)
    mine = opened(browser.get(page).text) | {"count": "5", "letter_text": "Dear {first name}"}
    theirs = opened(browser.get(page).text) | {"count": "7"}
    sign_in(cast.owner).post(page, theirs)
    response = browser.post(page, mine)
    assert response.status_code == 409
    assert "Somebody else saved this while you were writing" in response.text
    kept = opened(response.text)
    assert (kept["count"], kept["letter_text"]) == ("5", "Dear {first name}")
    assert step_of(cast).count == 7
    # saved once more it is stored over the other
    assert browser.post(page, kept)["Location"] == url("plan-changes")
    assert (step_of(cast).count, step_of(cast).letter_text) == (5, "Dear {first name}")


def test_the_second_click_on_save_changes_nothing(browser, cast):
    page = url("plan-step", step_of(cast).pk)
    data = opened(browser.get(page).text) | {"count": "5"}
    for _ in range(2):
        assert browser.post(page, data)["Location"] == url("plan-changes")
    assert PlanEdition.objects.count() == 2


def test_a_removed_step_can_be_put_back_with_the_plan(browser, cast):
    step = step_of(cast)
    gone = browser.post(url("plan-step-remove", step.pk), {"version": step.version})
    assert said(gone) == ["“Ask where the proposal stands” is no longer part of the plan."]
    assert "1 open follow-up ends" in browser.get(url("plan-changes")).text
    for name in ("plan", "plan-changes"):
        assert "Put the earlier plan back" in browser.get(url(name)).text
    back = browser.post(url("plan-put-back"), {"number": "2"})
    assert said(back)[-1] == "The earlier plan stands again."
    assert "Ask where the proposal stands" in browser.get(url("plan")).text
    assert "No open follow-up would move, come or go." in browser.get(url("plan-changes")).text
    twice = browser.post(url("plan-put-back"), {"number": "2"})
    assert "meanwhile" in said(twice)[-1]


def test_a_step_that_is_gone_says_so_and_nothing_typed_is_lost(browser, cast):
    step = step_of(cast)
    page = url("plan-step", step.pk)
    data = opened(browser.get(page).text) | {"action": "Ring the mill"}
    browser.post(url("plan-step-remove", step.pk), {"version": step.version})
    response = browser.post(page, data)
    assert response.status_code == 409
    assert "Somebody removed this" in response.text
    assert opened(response.text)["action"] == "Ring the mill"
    assert browser.get(page)["Location"] == url("plan")
    again = browser.post(url("plan-step-remove", step.pk), {"version": step.version})
    assert again["Location"] == url("plan")


def test_a_step_that_changed_since_it_was_seen_is_not_removed(browser, cast):
    step = step_of(cast)
    page = url("plan-step", step.pk)
    browser.post(page, opened(browser.get(page).text) | {"count": "5"})
    response = browser.post(url("plan-step-remove", step.pk), {"version": "1"})
    assert response["Location"] == page
    assert step_of(cast).count == 5


def test_a_long_list_shows_its_beginning_and_counts_the_rest(browser, cast, monkeypatch):
    monkeypatch.setattr(plan_views, "SHOWN", 2)
    leads = [LeadFactory(team=cast.team) for _ in range(4)]
    for lead in leads:
        ProposalFactory(lead=lead, sent_on=TODAY)
    settle(cast.team, [lead.pk for lead in leads], now=NOW)
    page = url("plan-step", step_of(cast).pk)
    browser.post(page, opened(browser.get(page).text) | {"count": "5"})
    shown = browser.get(url("plan-changes")).text
    assert "5 open follow-ups move" in shown
    assert shown.count("was Tue 17 Mar 2026") == 2
    assert "And 3 more." in shown


def test_the_plan_that_came_with_the_program_says_so_and_has_none_before_it(browser):
    page = browser.get(url("plan")).text
    assert "the plan that came with the program" in page
    assert "Put the earlier plan back" not in page


def test_a_reader_reads_the_plan_and_what_would_move_and_is_offered_no_button(cast, sign_in):
    member = sign_in(cast.member)
    page = url("plan-step", step_of(cast).pk)
    member.post(page, opened(member.get(page).text) | {"count": "5"})
    reader = sign_in(cast.reader)
    for name in ("plan", "plan-changes"):
        text = reader.get(url(name)).text
        main = text[text.index("<main") :]
        assert "<form" not in main
        assert "plan/steps/" not in main
    assert "engaged<" not in reader.get(url("plan")).text


def test_the_page_of_what_would_move_takes_the_same_queries_for_any_number(browser, cast):
    page = url("plan-step", step_of(cast).pk)
    browser.post(page, opened(browser.get(page).text) | {"count": "5"})
    browser.get(url("plan-changes"))
    one = tables(lambda: browser.get(url("plan-changes")))
    for _ in range(4):
        ProposalFactory(lead=LeadFactory(team=cast.team), sent_on=TODAY)
    settle(cast.team, Lead.objects.values_list("pk", flat=True), now=NOW)
    assert tables(lambda: browser.get(url("plan-changes"))) == one

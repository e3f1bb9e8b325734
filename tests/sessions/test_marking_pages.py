"""Held, missed, cancelled, sent, waived in the browser: twice, and from two browsers."""

from datetime import timedelta

from pipeline.clock import moment
from sessions.models import Deliverable, State
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory

from .pages import at, said

LATER = NOW + timedelta(minutes=3)


def figures(session, **changes):
    """Return what a browser posts from the page that marks a session held."""
    names = ("attendee_count", "effort_before", "effort_during", "effort_after")
    blank = dict.fromkeys([*names, *(f"initial-{name}" for name in names)], "")
    return blank | {"version": session.version} | changes


def test_a_session_is_marked_held_with_its_figures(cast, sign_in, booked):
    page = at(cast.team, "session-held", booked.pk)
    browser = sign_in(cast.member)
    assert browser.get(page).status_code == 200
    after = browser.post(
        page, figures(booked, attendee_count="3", effort_during="65"), follow=True
    )
    assert said(after) == ["Marked held."]
    booked.refresh_from_db()
    assert (booked.state, booked.attendee_count, booked.effort) == (State.HELD, 3, 65)
    assert Deliverable.objects.count() == 1


def test_held_from_two_browsers_is_held_once_and_the_second_learns_by_whom(cast, sign_in, booked):
    page = at(cast.team, "session-held", booked.pk)
    opened = figures(booked)
    sign_in(cast.owner).post(page, opened)
    with moment.stopped(LATER):
        second = sign_in(cast.member).post(page, opened, follow=True)
    assert said(second) == [
        "It was already marked held by Olive Brandt, Tue 3 Mar 2026, 09:00. Nothing was changed."
    ]
    assert Deliverable.objects.count() == 1


def test_figures_typed_in_the_second_browser_are_shown_beside_the_first_and_not_lost(
    cast, sign_in, booked
):
    page = at(cast.team, "session-held", booked.pk)
    mine = figures(booked, effort_during="75", attendee_count="2")
    sign_in(cast.owner).post(page, figures(booked, effort_during="60"))

    browser = sign_in(cast.member)
    with moment.stopped(LATER):
        conflict = browser.post(page, mine)
    assert conflict.status_code == 409
    assert "already marked held by Olive Brandt" in conflict.content.decode()
    assert {d.name: (d.typed, d.stored) for d in conflict.context["differences"]} == {
        "effort_during": ("75", "60"),
        "attendee_count": ("2", "—"),
    }
    booked.refresh_from_db()
    assert (booked.effort_during, booked.attendee_count) == (60, None)

    browser.post(page, mine | {"version": booked.version, "take": ["effort_during"]})
    booked.refresh_from_db()
    assert (booked.effort_during, booked.attendee_count) == (60, 2)
    assert Deliverable.objects.count() == 1


def test_the_page_of_a_held_session_leads_back_to_the_session(cast, sign_in, takeaway):
    page = at(cast.team, "session-held", takeaway.session_id)
    assert sign_in(cast.member).get(page).url == takeaway.session.get_absolute_url()


def test_a_session_ahead_is_not_held_and_the_page_says_why(cast, sign_in, booked):
    page = at(cast.team, "session-held", booked.pk)
    booked.day = TODAY + timedelta(days=1)
    booked.save()
    answer = sign_in(cast.member).post(page, figures(booked, effort_before="20"))
    assert answer.status_code == 422
    assert "ahead" in answer.content.decode()
    assert 'value="20"' in answer.content.decode()


def test_missed_and_cancelled_twice_say_who_was_first(cast, sign_in, booked):
    for name, what in (("session-missed", "missed"), ("session-cancel", "cancelled")):
        page = at(cast.team, name, booked.pk)
        assert sign_in(cast.owner).get(page).status_code == 200
        first = sign_in(cast.owner).post(page, {"reason": "Nobody came."}, follow=True)
        assert said(first) == [f"Marked {what}."]
        with moment.stopped(LATER):
            second = sign_in(cast.member).post(page, {"reason": ""}, follow=True)
        assert f"already marked {what} by Olive Brandt" in said(second)[0]
        booked.refresh_from_db()
        assert booked.reason == "Nobody came."
        back = sign_in(cast.owner).post(at(cast.team, "session-back", booked.pk), follow=True)
        assert said(back) == ["The session is booked again."]


def test_a_session_whose_takeaway_was_sent_stays_held_and_the_page_says_why(
    cast, sign_in, takeaway
):
    takeaway.sent_on = TODAY
    takeaway.save()
    page = at(cast.team, "session-back", takeaway.session_id)
    assert "Takeaway was sent" in said(sign_in(cast.member).post(page, follow=True))[0]
    takeaway.session.refresh_from_db()
    assert takeaway.session.state == State.HELD


def test_the_sent_page_offers_today_and_those_who_took_part(cast, sign_in, takeaway):
    takeaway.session.attendees.add(ContactFactory(lead=takeaway.lead, email="ana@lead.example"))
    page = at(cast.team, "deliverable-sent", takeaway.pk)
    words = sign_in(cast.member).get(page).content.decode()
    assert 'value="2026-03-03"' in words
    assert 'value="ana@lead.example"' in words


def test_sent_twice_is_sent_once_and_the_second_learns_by_whom(cast, sign_in, takeaway):
    page = at(cast.team, "deliverable-sent", takeaway.pk)
    post = {"sent_on": "2026-03-03", "sent_to": "ana@lead.example"}
    assert said(sign_in(cast.owner).post(page, post, follow=True)) == ["Marked sent."]
    with moment.stopped(LATER):
        same = sign_in(cast.member).post(page, post, follow=True)
        other = sign_in(cast.member).post(page, post | {"sent_to": "bo@lead.example"})
    assert "already marked sent by Olive Brandt" in said(same)[0]
    assert other.status_code == 422
    assert "already marked sent by Olive Brandt" in other.content.decode()
    assert "bo@lead.example" in other.content.decode()
    assert Deliverable.objects.get().sent_to == "ana@lead.example"


def test_waived_with_a_reason_and_owed_again(cast, sign_in, takeaway):
    browser = sign_in(cast.member)
    page = at(cast.team, "deliverable-waive", takeaway.pk)
    assert browser.get(page).status_code == 200
    assert browser.post(page, {"reason": ""}).status_code == 422
    assert said(browser.post(page, {"reason": "None wanted."}, follow=True)) == ["Marked waived."]
    owe = at(cast.team, "deliverable-owe", takeaway.pk)
    assert said(browser.post(owe, follow=True)) == ["Takeaway is owed again."]
    assert Deliverable.objects.get().owed


def test_two_browsers_change_one_deliverable_and_nothing_is_lost(cast, sign_in, takeaway):
    page = at(cast.team, "deliverable", takeaway.pk)
    opened = {
        "title": "Takeaway",
        "due_on": "2026-03-06",
        "owner": cast.member.pk,
        "link": "",
        "version": takeaway.version,
    }
    opened |= {f"initial-{name}": value for name, value in opened.items() if name != "version"}
    browser = sign_in(cast.member)
    assert browser.get(page).status_code == 200
    assert sign_in(cast.owner).post(page, opened | {"due_on": "2026-03-09"}).status_code == 302
    conflict = browser.post(page, opened | {"link": "https://files.example/1"})
    assert conflict.status_code == 409
    assert "https://files.example/1" in conflict.content.decode()
    takeaway.refresh_from_db()
    assert (str(takeaway.due_on), takeaway.link) == ("2026-03-09", "")


def test_while_a_form_is_wrong_the_page_still_shows_what_is_stored(cast, sign_in, takeaway):
    page = at(cast.team, "deliverable", takeaway.pk)
    post = {"title": "", "due_on": "soon", "owner": "", "link": "javascript:alert(1)"}
    answer = sign_in(cast.member).post(page, post | {"version": takeaway.version})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"title", "due_on", "link"}
    assert "<h1>Takeaway</h1>" in answer.content.decode()
    assert 'href="javascript' not in answer.content.decode()

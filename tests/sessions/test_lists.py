"""Sessions and deliverables in order of time."""

from datetime import timedelta

import pytest

from sessions.booking import cancel
from tests.conftest import NOW, TODAY
from tests.factories import DeliverableFactory, LeadFactory, SessionFactory

from .pages import at

DAY = timedelta(days=1)


def names(rows) -> list[str]:
    return [str(row.lead) for row in rows]


@pytest.fixture
def lead_called(cast):
    return lambda name: LeadFactory(team=cast.team, organisation=name)


def test_sessions_stand_under_late_today_ahead_and_what_became_of_them(cast, sign_in, lead_called):
    for name, day, state in (
        ("late", TODAY - DAY, "booked"),
        ("later still", TODAY - 2 * DAY, "booked"),
        ("today", TODAY, "booked"),
        ("held today", TODAY, "held"),
        ("ahead", TODAY + DAY, "booked"),
        ("held", TODAY - DAY, "held"),
        ("missed", TODAY - 3 * DAY, "missed"),
        ("cancelled ahead", TODAY + 3 * DAY, "cancelled"),
    ):
        SessionFactory(lead=lead_called(name), day=day, state=state)
    SessionFactory(lead=LeadFactory(team=cast.other_team, organisation="theirs"))

    answer = sign_in(cast.reader).get(at(cast.team, "sessions"))
    assert names(answer.context["late"]) == ["later still", "late"]
    assert sorted(names(answer.context["of_today"])) == ["held today", "today"]
    assert names(answer.context["ahead"]) == ["ahead"]
    assert names(answer.context["marked"].rows) == ["cancelled ahead", "held", "missed"]
    assert "theirs" not in answer.content.decode()


def test_an_empty_list_says_what_to_do_next(cast, sign_in):
    words = sign_in(cast.member).get(at(cast.team, "sessions")).content.decode()
    assert "Nothing is booked" in words
    words = sign_in(cast.member).get(at(cast.team, "deliverables")).content.decode()
    assert "Nothing is owed" in words
    words = sign_in(cast.member).get(at(cast.team, "formats")).content.decode()
    assert "no formats" in words


def test_the_weeks_free_hours_are_told_against_the_limit(cast, sign_in, booked):
    page = at(cast.team, "sessions")
    browser = sign_in(cast.member)

    def words() -> str:
        return " ".join(browser.get(page).content.decode().split())

    assert "1 h of free sessions, out of 4 h that the team allows itself. 3 h are left." in words()
    cast.team.weekly_free_minutes = 45
    cast.team.save()
    assert "That is 15 min too many." in words()
    cast.team.weekly_free_minutes = 60
    cast.team.save()
    assert "None is left." in words()
    cancel(session=booked, member=cast.owner, now=NOW)
    assert "no free sessions, out of 1 h" in words()


@pytest.mark.parametrize("page", ["sessions", "deliverables"])
def test_older_pages_show_every_row_once(cast, sign_in, lead, page):
    made = []
    for n in range(60):
        # several on one day
        day = TODAY - (n // 7 + 1) * DAY
        if page == "sessions":
            made.append(SessionFactory(lead=lead, format=None, day=day, state="held").pk)
        else:
            made.append(DeliverableFactory(lead=lead, sent_on=day).pk)
    browser, address, seen = sign_in(cast.member), at(cast.team, page), []
    query = ""
    for _ in range(5):
        context = browser.get(address + query).context
        part = context["marked" if page == "sessions" else "closed"]
        seen += [row.pk for row in part.rows]
        if not part.older:
            break
        query = f"?before={part.older}"
    assert sorted(seen) == sorted(made)
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize(
    "before",
    [
        *["", "x", ".", "\x00.1", "0001-01-01.1", "2026-02-30.1"],
        *[f"2026-03-01{end}" for end in ("", ".", ".x", ".-1", ".²", ".99999999999999999999")],
    ],
)
def test_a_mark_that_is_none_is_no_error(cast, sign_in, takeaway, before):
    browser = sign_in(cast.member)
    for page in ("sessions", "deliverables"):
        assert browser.get(at(cast.team, page), {"before": before}).status_code == 200


def test_deliverables_stand_under_late_due_ahead_and_closed(cast, sign_in, lead_called):
    for name, facts in (
        ("late", {"due_on": TODAY - DAY}),
        ("due", {"due_on": TODAY}),
        ("ahead", {"due_on": TODAY + DAY}),
        ("sent", {"due_on": TODAY - DAY, "sent_on": TODAY}),
        ("waived", {"due_on": TODAY - DAY, "waived_on": TODAY - DAY}),
    ):
        DeliverableFactory(lead=lead_called(name), **facts)
    DeliverableFactory(lead=LeadFactory(team=cast.other_team, organisation="theirs"))

    answer = sign_in(cast.reader).get(at(cast.team, "deliverables"))
    words = " ".join(answer.content.decode().split())
    assert names(answer.context["late"]) == ["late"]
    assert names(answer.context["due"]) == ["due"]
    assert names(answer.context["ahead"]) == ["ahead"]
    assert names(answer.context["closed"].rows) == ["sent", "waived"]
    assert "late, was due yesterday" in words
    assert "due tomorrow" in words
    assert "Wed 4 Mar 2026" in words
    assert "theirs" not in words


def test_a_format_tells_its_arithmetic_and_how_often_it_was_used(cast, sign_in, takeaway):
    hour = takeaway.session.format
    browser = sign_in(cast.reader)
    for page in (at(cast.team, "formats"), at(cast.team, "format", hour.pk)):
        words = " ".join(browser.get(page).content.decode().split())
        assert "1 held, 0 booked, 0 missed, 0 cancelled" in words
        assert "Takeaway within 3 working days" in words
    assert "54 min of steps in 1 h, 6 min of slack" in words
    assert "talk 36 min · write 11 min · vote 4 min · crew only 3 min" in words


def test_a_sessions_page_tells_everything_about_it(cast, sign_in, takeaway):
    words = sign_in(cast.reader).get(takeaway.session.get_absolute_url()).content.decode()
    for part in (
        "Discovery hour, Tue 3 Mar 2026, 08:00",
        "Held, marked by Olive Brandt",
        "Olive Brandt, facilitator; Mateus Coelho, note-taker",
        "08:00 to 09:00 (Europe/Lisbon)",
        "due Fri 6 Mar 2026, in 3 days",
        "What counts most",
    ):
        assert part in words

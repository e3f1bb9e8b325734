"""After the hour: who came, who decides, the budget, what they asked for; then the write-up."""

import pytest

from sessions.models import AfterHour, Deliverable, DiscoverySession, State, WriteUp
from sessions.takeaways.forms import AfterHourForm, WriteUpForm
from tests.sessions.pages import at, said


def posted(form: type, opened: dict, **changes) -> dict:
    """Return what a browser posts from a form that was ``opened`` so."""
    initial = {f"initial-{name}": value for name, value in opened.items()}
    return opened | initial | changes


def after(version: int = 1, **changes) -> dict:
    opened = {"state": "", "attendee_count": "", "decides": "", "budget": "", "asked_for": ""}
    return posted(AfterHourForm, opened, version=version, **changes)


def written(version: int = 1, **changes) -> dict:
    opened = {"challenge": "", "goal": "", "opportunities": "", "next_steps": ""}
    return posted(WriteUpForm, opened, version=version, **changes)


def test_the_short_form_marks_the_session_held_and_what_it_promises_is_owed(cast, sign_in, booked):
    page = sign_in(cast.member).post(
        at(cast.team, "after-hour", booked.pk),
        after(
            state="held",
            attendee_count="3",
            decides="The board, in May",
            budget="sought",
            asked_for="A price for two workshops",
        ),
        follow=True,
    )
    assert page.redirect_chain == [(at(cast.team, "write-up", booked.pk), 302)]
    session = DiscoverySession.objects.get(pk=booked.pk)
    assert (session.state, session.attendee_count) == (State.HELD, 3)
    row = AfterHour.objects.get(session=booked)
    assert (row.decides, row.budget, row.asked_for) == (
        "The board, in May",
        "sought",
        "A price for two workshops",
    )
    owed = Deliverable.objects.get(session=booked)
    assert owed.owner == cast.member
    text = page.content.decode()
    assert "Takeaway" in text
    assert "Mateus Coelho" in text


def test_the_short_form_marks_the_session_missed_and_nothing_is_owed(cast, sign_in, booked):
    page = at(cast.team, "after-hour", booked.pk)
    assert sign_in(cast.member).post(page, after(state="missed")).status_code == 302
    assert DiscoverySession.objects.get(pk=booked.pk).state == State.MISSED
    assert not Deliverable.objects.filter(session=booked).exists()


def test_posting_it_twice_changes_nothing_more(cast, sign_in, booked):
    page, browser = at(cast.team, "after-hour", booked.pk), sign_in(cast.member)
    data = after(state="held", decides="The board")
    browser.post(page, data)
    again = browser.post(page, data, follow=True)
    assert "saved already" in said(again)[-1]
    assert AfterHour.objects.get().version == 2
    assert Deliverable.objects.count() == 1


def test_of_two_writers_the_second_sees_both_versions(cast, sign_in, booked):
    page = at(cast.team, "after-hour", booked.pk)
    sign_in(cast.owner).post(page, after(state="held", decides="The board"))
    answer = sign_in(cast.member).post(page, after(state="held", decides="The head"))
    assert answer.status_code == 409
    (difference,) = answer.context["differences"]
    assert (difference.typed, difference.stored) == ("The head", "The board")
    assert AfterHour.objects.get().decides == "The board"


@pytest.mark.parametrize(
    ("field", "value"),
    [("state", ""), ("state", "won"), ("attendee_count", "-1"), ("budget", "lots")],
)
def test_a_wrong_field_is_named_and_nothing_is_stored(cast, sign_in, booked, field, value):
    data = after(state="held", decides="The board") | {field: value}
    answer = sign_in(cast.member).post(at(cast.team, "after-hour", booked.pk), data)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert "The board" in answer.content.decode()
    assert not AfterHour.objects.exists()
    assert DiscoverySession.objects.get(pk=booked.pk).state == State.BOOKED


def test_a_session_that_lies_ahead_can_not_have_been_held(cast, sign_in, booked):
    DiscoverySession.objects.filter(pk=booked.pk).update(day="2026-03-04")
    answer = sign_in(cast.member).post(at(cast.team, "after-hour", booked.pk), after(state="held"))
    assert answer.status_code == 422
    assert "lies ahead" in answer.content.decode()
    assert not AfterHour.objects.exists()


def test_the_write_up_is_stored_and_the_challenge_is_one_sentence(cast, sign_in, held):
    page = sign_in(cast.member).post(
        at(cast.team, "write-up", held.pk),
        written(challenge="How might\r\nwe answer?", goal="Soon", next_steps="A\r\n\r\nB "),
        follow=True,
    )
    row = WriteUp.objects.get(session=held)
    assert (row.challenge, row.goal) == ("How might we answer?", "Soon")
    assert page.context["harvest"].next_steps == ["A", "B"]


def test_of_two_who_write_it_up_the_second_sees_both_versions(cast, sign_in, held):
    page = at(cast.team, "write-up", held.pk)
    sign_in(cast.owner).post(page, written(challenge="Hers"))
    answer = sign_in(cast.member).post(page, written(challenge="His", goal="Soon"))
    assert answer.status_code == 409
    assert {d.name: (d.typed, d.stored) for d in answer.context["differences"]} == {
        "challenge": ("His", "Hers"),
        "goal": ("Soon", "—"),
    }
    assert WriteUp.objects.get().challenge == "Hers"


def test_the_page_shows_statements_by_votes_notes_by_theme_and_every_opportunity(
    cast, sign_in, heard
):
    harvest = sign_in(cast.reader).get(at(cast.team, "write-up", heard.pk)).context["harvest"]
    (prompt,) = harvest.prompts
    assert [(s.text, s.votes) for s in prompt.statements] == [
        ("We answer the same day", 5),
        ("They know us by name", 2),
        ("Price", 0),
    ]
    assert prompt.votes == 7
    assert [(g.title, len(g.notes)) for g in harvest.groups] == [
        ("Answering takes days", 1),
        ("Two ledgers", 1),
        ("Also said", 1),
    ]
    assert harvest.opportunities == (
        "How might we keep one ledger?",
        "What if families saw the free places themselves?",
    )
    assert harvest.lacking == []


def test_what_was_let_go_at_the_desk_stays_out(cast, sign_in, heard):
    heard.notes.filter(text="The roof leaks.").update(let_go=True)
    heard.themes.filter(title="Two ledgers").update(let_go=True)
    heard.statements.filter(text="Price").update(let_go=True)
    harvest = sign_in(cast.member).get(at(cast.team, "write-up", heard.pk)).context["harvest"]
    assert [g.title for g in harvest.groups] == ["Answering takes days", "Also said"]
    assert harvest.groups[1].notes[0].text == "Each office keeps a ledger of its own."
    assert len(harvest.prompts[0].statements) == 2


def test_a_session_of_which_nothing_is_known_yet_has_its_pages(cast, sign_in, booked):
    browser = sign_in(cast.member)
    for name in ("after-hour", "write-up", "lane-chart", "takeaway", "takeaway-pdf"):
        assert browser.get(at(cast.team, name, booked.pk)).status_code == 200
    page = browser.get(at(cast.team, "takeaway", booked.pk))
    assert page.context["lacking"] == [
        "the challenge in one sentence",
        "notes",
        "statements",
        "the lane chart",
        "next steps",
    ]

"""Whatever is posted, a form answers in words and never breaks."""

import pytest

from sessions.models import Deliverable, DiscoverySession

from .pages import at, booking, editing

WORDS = ["x" * 5000, "a\x00b", "\ud800".encode("utf-8", "surrogatepass").decode("latin-1")]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        *[("minutes", value) for value in ["0", "1441", "-1", "9" * 20, "1.5", "many"]],
        *[("starts_at", value) for value in ["", "soon", "2026-13-01T00:00", "9999-12-31T23:59"]],
        *[("format", value) for value in ["", "0", "x", "99999999999999999999"]],
        *[("facilitator", value) for value in ["", "0", "x", "99999999999999999999"]],
        ("supports", ["x"]),
        ("supports", ["99999999999999999999"]),
        ("attendees", ["99999999999999999999"]),
        ("attendees", ["x"]),
        ("place", "x" * 301),
        ("place", "a\x00b"),
        ("submission", "x"),
    ],
)
def test_a_booking_names_the_field_at_fault_and_books_nothing(
    cast, sign_in, lead, hour, field, value
):
    page = at(cast.team, "session-book", lead.pk)
    answer = sign_in(cast.member).post(page, booking(cast, hour, **{field: value}))
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not DiscoverySession.objects.exists()


def test_a_member_of_another_team_is_no_choice(cast, sign_in, lead, hour):
    page = at(cast.team, "session-book", lead.pk)
    for who in (cast.other_owner, cast.reader):
        answer = sign_in(cast.member).post(page, booking(cast, hour, facilitator=who.pk))
        assert "facilitator" in answer.context["form"].errors


@pytest.mark.parametrize("field", ["attendee_count", "effort_before", "minutes"])
@pytest.mark.parametrize("value", ["-1", "99999999999999999999", "3000000000", "1.5", "many"])
def test_a_change_names_the_number_at_fault(cast, sign_in, booked, field, value):
    page = at(cast.team, "session-edit", booked.pk)
    answer = sign_in(cast.member).post(page, editing(booked, **{field: value}))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]


@pytest.mark.parametrize("value", ["-1", "99999999999999999999", "40000", "1.5", "many"])
def test_marking_held_names_the_number_at_fault(cast, sign_in, booked, value):
    page = at(cast.team, "session-held", booked.pk)
    post = {"version": booked.version, "attendee_count": value}
    answer = sign_in(cast.member).post(page, post)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["attendee_count"]
    booked.refresh_from_db()
    assert booked.state == "booked"


@pytest.mark.parametrize("name", ["session-edit", "session-held", "deliverable"])
@pytest.mark.parametrize("version", ["", "0", "x", "99999999999999999999"])
def test_a_version_that_is_none_changes_nothing(cast, sign_in, takeaway, name, version):
    key = takeaway.pk if name == "deliverable" else takeaway.session_id
    post = {"version": version, "effort_before": "30"}
    answer = sign_in(cast.member).post(at(cast.team, name, key), post)
    assert answer.status_code in (409, 422)
    takeaway.session.refresh_from_db()
    assert takeaway.session.effort is None


@pytest.mark.parametrize("words", WORDS)
def test_reasons_and_receivers_of_any_kind_never_break(cast, sign_in, takeaway, words):
    browser = sign_in(cast.member)
    sent = {"sent_on": "2026-03-03", "sent_to": words}
    assert browser.post(at(cast.team, "deliverable-sent", takeaway.pk), sent).status_code < 500
    for name, key in (
        ("deliverable-waive", takeaway.pk),
        ("session-missed", takeaway.session_id),
        ("session-cancel", takeaway.session_id),
    ):
        assert browser.post(at(cast.team, name, key), {"reason": words}).status_code < 500


@pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "0001-01-01", "9999-12-31"])
def test_a_day_of_sending_that_is_none_is_told_and_kept(cast, sign_in, takeaway, day):
    page = at(cast.team, "deliverable-sent", takeaway.pk)
    answer = sign_in(cast.member).post(page, {"sent_on": day, "sent_to": "Ana"})
    assert answer.status_code == 422
    assert "sent_on" in answer.context["form"].errors
    assert 'value="Ana"' in answer.content.decode()
    assert Deliverable.objects.get().owed


@pytest.mark.parametrize("name", ["session", "format", "deliverable", "session-book"])
def test_a_row_that_is_not_there_is_not_found(cast, sign_in, name):
    browser = sign_in(cast.member)
    for key in (0, 10**9, 2**63 - 1, 2**63, 10**30):
        assert browser.get(at(cast.team, name, key)).status_code == 404

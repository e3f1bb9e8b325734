"""Something promised that the format does not promise."""

from datetime import date

from django.urls import reverse

from sessions.models import Deliverable


def form(cast, **more) -> dict[str, str]:
    return {
        "title": "Reading list",
        "due_on": "2026-03-10",
        "owner": str(cast.owner.pk),
        "submission": "0a6a1f2e-94c1-4b35-8a0a-3e9f6ac7cbb1",
        **more,
    }


def test_it_is_owed_from_then_on_and_a_second_click_makes_no_second(cast, sign_in, takeaway):
    session = takeaway.session
    address = reverse("deliverable-new", args=[cast.team.slug, session.pk])
    browser = sign_in(cast.member)
    for _ in range(2):
        assert browser.post(address, form(cast)).status_code == 302

    made = Deliverable.objects.get(session=session, title="Reading list")
    assert (made.due_on, made.owner, made.recorded_by) == (
        date(2026, 3, 10),
        cast.owner,
        cast.member,
    )
    session.lead.refresh_from_db()
    assert session.lead.standing == "takeaway owed"
    assert "Reading list" in browser.get(session.get_absolute_url()).text


def test_a_title_that_is_there_already_is_named(cast, sign_in, takeaway):
    address = reverse("deliverable-new", args=[cast.team.slug, takeaway.session_id])
    answer = sign_in(cast.member).post(address, form(cast, title=takeaway.title))
    assert answer.status_code == 422
    assert "already a “" in answer.text
    assert 'value="2026-03-10"' in answer.text

"""Absences: entered and changed by oneself, or by an owner; never two at once of one person."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from pipeline.teams import absences
from pipeline.teams.models import Absence, Member, Stale
from pipeline.teams.refused import Refused
from tests.conftest import TODAY
from tests.factories import AbsenceFactory
from tests.followups.threads import at_once

NEW = reverse("absence-new", args=["harbour"])
TEAM = reverse("team", args=["harbour"])


def on(days):
    return TODAY + timedelta(days=days)


def typed(**changes) -> dict[str, object]:
    days = {"first_day": "2026-03-09", "last_day": "2026-03-13"}
    return {"submission": uuid.uuid4(), **days, **changes}


def edit(absence: Absence) -> str:
    return reverse("absence-edit", args=["harbour", absence.pk])


def removal(absence: Absence) -> str:
    return reverse("absence-remove", args=["harbour", absence.pk])


def test_a_member_enters_their_own_absence_with_a_stand_in(cast, sign_in):
    browser = sign_in(cast.member)
    answer = browser.post(NEW, typed(stand_in=cast.owner.pk, note="Walking"), follow=True)
    assert "The absence is entered." in answer.text
    assert "Mon 9 Mar 2026 to Fri 13 Mar 2026" in answer.text
    assert "Olive Brandt stands in." in answer.text
    assert "Walking" in answer.text
    (absence,) = Absence.objects.for_team(cast.team)
    assert (absence.member, absence.stand_in) == (cast.member, cast.owner)
    assert (absence.first_day, absence.last_day) == (date(2026, 3, 9), date(2026, 3, 13))


def test_an_owner_enters_anybodys_and_a_member_only_their_own(cast, sign_in):
    sign_in(cast.owner).post(NEW, typed(member=cast.member.pk))
    assert Absence.objects.get().member == cast.member
    sign_in(cast.member).post(
        NEW, typed(member=cast.owner.pk, first_day="2026-04-01", last_day="2026-04-01")
    )
    assert {a.member for a in Absence.objects.all()} == {cast.member}


def test_a_form_posted_twice_enters_one_absence(cast, sign_in):
    form = typed()
    for _ in range(2):
        assert sign_in(cast.member).post(NEW, form).status_code == 302
    assert Absence.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "changes", "said"),
    [
        ("first_day", {"first_day": ""}, "This field is required."),
        ("first_day", {"first_day": "soon"}, "Give a day, such as 2026-03-24."),
        ("last_day", {"last_day": "2026-03-08"}, "must be the first day or a later one"),
        ("stand_in", {"stand_in": "0"}, "Select a valid choice"),
        ("note", {"note": "x" * 201}, "at most 200 characters"),
    ],
)
def test_what_is_wrong_is_named_and_everything_typed_is_kept(cast, sign_in, field, changes, said):
    absence = AbsenceFactory(member=cast.member, first_day=on(300))
    for url in (NEW, edit(absence)):
        form = typed(version=1, **{"note": "Kept words", **changes})
        answer = sign_in(cast.member).post(url, form)
        assert answer.status_code == 422
        assert said in " ".join(answer.context["form"].errors[field])
        assert list(answer.context["form"].errors) == [field]
        assert field == "note" or "Kept words" in answer.text
    assert Absence.objects.get().first_day == on(300)


def test_nobody_stands_in_for_themselves(cast, sign_in):
    answer = sign_in(cast.member).post(NEW, typed(stand_in=cast.member.pk))
    assert answer.status_code == 422
    assert "Nobody stands in for themselves" in answer.text


def test_neither_a_reader_nor_somebody_of_another_team_can_stand_in(cast, sign_in):
    for who in (cast.reader, cast.other_owner):
        assert sign_in(cast.member).post(NEW, typed(stand_in=who.pk)).status_code == 422
    for who in (cast.reader, cast.other_owner):
        assert sign_in(cast.owner).post(NEW, typed(member=who.pk)).status_code == 422


@pytest.mark.parametrize(("first", "last"), [(2, 4), (4, 6), (6, 8), (5, 5), (0, 9)])
def test_an_absence_that_overlaps_another_is_refused_with_its_days(cast, sign_in, first, last):
    AbsenceFactory(member=cast.member, first_day=on(4), last_day=on(6))
    form = typed(first_day=on(first).isoformat(), last_day=on(last).isoformat())
    answer = sign_in(cast.member).post(NEW, form)
    assert answer.status_code == 422
    assert answer.context["form"].errors["first_day"] == [
        "Mateus Coelho is away from Sat 7 Mar 2026 to Mon 9 Mar 2026 already. "
        "Change that absence, or choose days outside it."
    ]


def test_the_days_beside_an_absence_and_those_of_others_are_free(cast):
    AbsenceFactory(member=cast.member, first_day=on(4), last_day=on(6))
    AbsenceFactory(member=cast.owner, first_day=on(0), last_day=on(9))
    for day in (3, 7):
        absences.enter(member=cast.member, first_day=on(day), last_day=on(day))
    assert Absence.objects.filter(member=cast.member).count() == 3


def test_a_change_may_overlap_itself_but_no_other(cast, sign_in):
    mine = AbsenceFactory(member=cast.member, first_day=on(4), last_day=on(6))
    AbsenceFactory(member=cast.member, first_day=on(9))
    browser = sign_in(cast.member)

    def save(last: int) -> int:
        mine.refresh_from_db()
        days = {"first_day": on(5).isoformat(), "last_day": on(last).isoformat()}
        return browser.post(edit(mine), {"version": mine.version, **days}).status_code

    assert save(8) == 302
    assert save(9) == 422
    mine.refresh_from_db()
    assert (mine.first_day, mine.last_day, mine.version) == (on(5), on(8), 2)


def test_of_two_who_change_one_absence_the_second_sees_both(cast, sign_in):
    absence = AbsenceFactory(member=cast.member, first_day=on(4), last_day=on(6))
    form = {"version": 1, "first_day": on(4).isoformat(), "last_day": on(7).isoformat()}
    assert sign_in(cast.owner).post(edit(absence), form).status_code == 302
    answer = sign_in(cast.member).post(edit(absence), form | {"last_day": on(9).isoformat()})
    assert answer.status_code == 409
    assert [d.name for d in answer.context["differences"]] == ["last_day"]
    absence.refresh_from_db()
    with pytest.raises(Stale):
        absences.amend(absence=absence, expected_version=1)


def test_an_absence_is_removed_after_a_question_and_once(cast, sign_in):
    absence = AbsenceFactory(member=cast.member, first_day=on(4), last_day=on(6))
    browser = sign_in(cast.member)
    assert "Sat 7 Mar 2026 to Mon 9 Mar 2026" in browser.get(removal(absence)).text
    form = {"submission": uuid.uuid4()}
    for said in ("The absence is removed.", "Already done, once."):
        assert said in browser.post(removal(absence), form, follow=True).text
    assert not Absence.objects.exists()


def test_a_member_changes_nobody_elses_and_is_shown_no_way_to(cast, sign_in):
    hers = AbsenceFactory(member=cast.owner, first_day=on(4))
    browser = sign_in(cast.member)
    for url in (edit(hers), removal(hers)):
        assert browser.get(url).status_code == 403
        assert browser.post(url, typed(version=1)).status_code == 403
        assert url not in browser.get(TEAM).text
        assert url in sign_in(cast.owner).get(TEAM).text
    hers.refresh_from_db()
    assert hers.version == 1


def test_the_team_sees_absences_until_they_are_over(cast, sign_in):
    browser = sign_in(cast.reader)
    assert "Nobody is away, now or later." in browser.get(TEAM).text
    AbsenceFactory(member=cast.member, first_day=on(-9), last_day=on(-1), note="Over")
    AbsenceFactory(member=cast.member, first_day=on(0), stand_in=cast.owner, note="Now")
    AbsenceFactory(member=cast.owner, first_day=on(-2), last_day=on(3), note="Also")
    page = browser.get(TEAM).text
    assert "Over" not in page
    assert "away now" in page
    assert "but is away too on some of these days" in page
    assert "Nobody stands in: the work is everybody’s." in page


def test_whoever_left_is_no_stand_in_any_more_and_their_absences_are_not_listed(cast, sign_in):
    AbsenceFactory(member=cast.member, first_day=on(4), note="Gone")
    hers = AbsenceFactory(member=cast.owner, first_day=on(4), stand_in=cast.member)
    Member.objects.filter(pk=cast.member.pk).update(left_on=TODAY)
    browser = sign_in(cast.owner)
    assert "Gone" not in browser.get(TEAM).text
    # who has left can't be chosen any more, so that saving the form names somebody who is here
    form = browser.get(edit(hers)).context["form"]
    assert cast.member not in form.fields["stand_in"].queryset


def test_the_database_holds_no_absence_that_ends_before_it_starts(cast):
    with pytest.raises(IntegrityError), transaction.atomic():
        AbsenceFactory(member=cast.member, first_day=on(2), last_day=on(1))
    with pytest.raises(Refused):
        absences.enter(member=cast.member, first_day=on(2), last_day=on(1))


def test_of_eight_overlapping_absences_entered_at_once_one_is_kept(transactional_db, cast):
    kept, refused = [], []

    def enter(n: int) -> None:
        member = Member.objects.select_related("team", "user").get(pk=cast.member.pk)
        try:
            kept.append(absences.enter(member=member, first_day=on(n), last_day=on(9)))
        except Refused as error:
            refused.append(error)

    assert at_once(*(lambda n=n: enter(n) for n in range(8))) == []
    assert (len(kept), len(refused)) == (1, 7)
    assert Absence.objects.count() == 1

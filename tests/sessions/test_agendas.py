"""Formats as a team edits them: what was used is never changed, an edit makes the next version."""

from __future__ import annotations

import pytest
from django.urls import reverse

from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from sessions.agendas.comparing import compare
from sessions.agendas.draft import Draft, PromiseDraft, StepDraft, draft_of, pasted
from sessions.agendas.real import planned_against_real
from sessions.agendas.saving import Seen, amend, bring_back, make, retire, seen
from sessions.models import Format, StepRun
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory, SessionFactory

DRAFT = Draft(
    name="Yard walk",
    minutes=45,
    purpose="See one place.",
    steps=(
        StepDraft("Welcome", 5),
        StepDraft("Walk", 30, "write", "Look.", "statements", "I saw …"),
        StepDraft("Choose", 5, "vote", "", "votes"),
    ),
    promises=(PromiseDraft("Takeaway", 3),),
)


@pytest.fixture
def walk(cast):
    return make(team=cast.team, draft=DRAFT)


def longer(draft: Draft = DRAFT) -> Draft:
    steps = (*draft.steps, StepDraft("Say goodbye", 4))
    return Draft(draft.name, draft.minutes, draft.purpose, steps, draft.promises)


def as_posted(draft: Draft, **more) -> dict[str, str]:
    data = {"name": draft.name, "purpose": draft.purpose, "minutes": str(draft.minutes)}
    for prefix, rows in (("steps", draft.steps), ("promises", draft.promises)):
        data |= {f"{prefix}-TOTAL_FORMS": str(len(rows)), f"{prefix}-INITIAL_FORMS": "0"}
        for n, row in enumerate(rows):
            data |= {f"{prefix}-{n}-{name}": str(value) for name, value in vars(row).items()}
    data["submission"] = "7d9b5b0e-4a35-4d8c-9c55-0d2f7d3b9a11"
    return data | more


def test_a_stored_draft_reads_back_as_it_was_written(walk):
    assert draft_of(walk) == DRAFT


def test_an_unused_format_is_changed_in_place(walk):
    stored = amend(format=walk, draft=longer(), expected=seen(walk), now=NOW)

    assert stored.pk == walk.pk
    assert stored.version == 1
    assert draft_of(Format.objects.get(pk=walk.pk)) == longer()


def test_a_used_format_is_never_changed_and_the_edit_is_the_next_version(cast, walk):
    session = SessionFactory(lead=LeadFactory(team=cast.team), format=walk)

    stored = amend(format=walk, draft=longer(), expected=seen(walk), now=NOW)

    walk.refresh_from_db()
    session.refresh_from_db()
    assert (stored.version, stored.retired_on) == (2, None)
    assert draft_of(stored) == longer()
    assert draft_of(walk) == DRAFT
    assert walk.retired_on == TODAY
    assert session.format == walk


def test_an_edit_that_changes_nothing_makes_no_version(cast, walk):
    SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
    assert amend(format=walk, draft=DRAFT, expected=seen(walk), now=NOW) == walk
    assert Format.objects.filter(name=DRAFT.name).count() == 1


@pytest.mark.parametrize("is_used", [True, False])
def test_of_two_writers_with_the_same_page_the_second_is_told(cast, walk, is_used):
    if is_used:
        SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
    both_saw = seen(walk)
    first = amend(format=walk, draft=longer(), expected=both_saw, now=NOW)

    with pytest.raises(Stale):
        amend(format=walk, draft=longer(longer()), expected=both_saw, now=NOW)

    assert draft_of(Format.objects.get(pk=first.pk)) == longer()


def test_a_name_in_use_is_refused_and_a_used_format_keeps_its_name(cast, walk):
    with pytest.raises(Refused, match="already"):
        make(team=cast.team, draft=DRAFT)
    SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
    renamed = Draft("Other", DRAFT.minutes, DRAFT.purpose, DRAFT.steps, DRAFT.promises)
    with pytest.raises(Refused, match="copy it"):
        amend(format=walk, draft=renamed, expected=seen(walk), now=NOW)
    assert make(team=cast.other_team, draft=DRAFT).team == cast.other_team


def test_one_version_of_a_name_is_booked_at_a_time(cast, walk):
    SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
    second = amend(format=walk, draft=longer(), expected=seen(walk), now=NOW)

    with pytest.raises(Refused, match="Another version"):
        bring_back(format=walk)
    assert retire(format=second, now=NOW) is True
    assert retire(format=second, now=NOW) is False
    assert bring_back(format=walk) is True
    assert bring_back(format=walk) is False
    booked = Format.objects.for_team(cast.team).for_booking().filter(name=DRAFT.name)
    assert list(booked) == [walk]


@pytest.mark.parametrize("text", ["", "1", "x.y", "1.2.3", "-1.1", "١.١", "1." + "9" * 40])
def test_what_nobody_has_seen_reads_as_such_or_as_another_version(text):
    assert Seen.read(text) != Seen(1, 1)


def test_comparing_puts_steps_of_one_title_beside_each_other():
    after = Draft(
        DRAFT.name,
        60,
        steps=(StepDraft("Welcome", 8), StepDraft("Sit", 5), *DRAFT.steps[1:2]),
    )
    told = [(pair.word, pair.changes) for pair in compare(DRAFT, after)]
    assert told == [
        ("changed", ["5 to 8 minutes"]),
        ("new", []),
        ("same", []),
        ("gone", []),
    ]


def test_many_lines_pasted_at_once_become_many_steps():
    assert pasted("Welcome; 5; talk\n\nWalk\t30\tWrite\nJust a title\n; ;") == [
        {"title": "Welcome", "minutes": "5", "way": "talk"},
        {"title": "Walk", "minutes": "30", "way": "write"},
        {"title": "Just a title", "minutes": "", "way": "talk"},
    ]


def test_a_format_is_written_in_the_browser_and_a_second_click_makes_no_second(cast, sign_in):
    browser = sign_in(cast.member)
    address = reverse("format-new", args=[cast.team.slug])
    for _ in range(2):
        answer = browser.post(address, as_posted(DRAFT))
    made = Format.objects.get(team=cast.team, name=DRAFT.name)
    assert answer.url == made_page(cast, made)
    assert draft_of(made) == DRAFT


def made_page(cast, row: Format) -> str:
    return reverse("format", args=[cast.team.slug, row.pk])


@pytest.mark.parametrize(
    ("action", "titles"),
    [
        ("down:0", ["Walk", "Welcome", "Choose"]),
        ("up:2", ["Welcome", "Choose", "Walk"]),
        ("remove:1", ["Welcome", "Choose"]),
        ("up:0", ["Welcome", "Walk", "Choose"]),
        ("down:99999999", ["Welcome", "Walk", "Choose"]),
        ("nonsense", ["Welcome", "Walk", "Choose"]),
    ],
)
def test_lines_are_moved_and_removed_without_storing_anything(cast, sign_in, walk, action, titles):
    address = reverse("format-edit", args=[cast.team.slug, walk.pk])
    answer = sign_in(cast.member).post(address, as_posted(DRAFT, do=action))

    assert answer.status_code == 200
    shown = [form.initial.get("title") for form in answer.context["forms"].steps]
    assert [title for title in shown if title] == titles
    assert "Not stored yet" in answer.text
    assert draft_of(Format.objects.get(pk=walk.pk)) == DRAFT


def test_bad_lines_are_named_and_what_was_typed_is_kept(cast, sign_in):
    data = as_posted(DRAFT)
    data |= {"steps-0-minutes": "five", "steps-1-prompt": "", "promises-0-title": "x" * 200}
    answer = sign_in(cast.member).post(reverse("format-new", args=[cast.team.slug]), data)

    assert answer.status_code == 422
    for said in ("whole number", "Say what the statements answer to", "at most 120", "five"):
        assert said in answer.text
    assert not Format.objects.filter(name=DRAFT.name).exists()


def test_an_agenda_without_steps_is_refused(cast, sign_in):
    empty = Draft("Nothing", 30)
    answer = sign_in(cast.member).post(
        reverse("format-new", args=[cast.team.slug]), as_posted(empty)
    )
    assert answer.status_code == 422
    assert "at least one step" in answer.text


def test_the_second_of_two_browsers_sees_both_versions_and_loses_nothing(cast, sign_in, walk):
    address = reverse("format-edit", args=[cast.team.slug, walk.pk])
    opened = str(seen(walk))
    first, second = sign_in(cast.member), sign_in(cast.owner)
    assert first.post(address, as_posted(longer(), seen=opened)).status_code == 302

    typed = Draft(DRAFT.name, 50, DRAFT.purpose, (StepDraft("Only this", 50),), DRAFT.promises)
    answer = second.post(address, as_posted(typed, seen=opened))
    assert answer.status_code == 409
    assert "Somebody else stored this format" in answer.text
    assert "Say goodbye" in answer.text
    assert "Only this" in answer.text

    again = second.post(
        address, as_posted(typed, seen=answer.context["forms"].head["seen"].value())
    )
    assert again.status_code == 302
    assert draft_of(Format.objects.get(pk=walk.pk)) == typed


def test_two_versions_are_shown_side_by_side(cast, sign_in, walk):
    SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
    newer = amend(format=walk, draft=longer(), expected=seen(walk), now=NOW)
    page = sign_in(cast.reader).get(reverse("format-compare", args=[cast.team.slug, newer.pk]))
    assert page.status_code == 200
    assert "version 1 beside 2" in page.text
    assert "Say goodbye" in page.text


def test_a_copy_starts_from_the_other_format(cast, sign_in, walk):
    address = reverse("format-new", args=[cast.team.slug])
    page = sign_in(cast.member).get(address, {"from": walk.pk})
    assert "I saw …" in page.text
    assert (
        sign_in(cast.other_owner)
        .get(reverse("format-new", args=[cast.other_team.slug]), {"from": walk.pk})
        .status_code
        == 404
    )


def test_real_minutes_stand_beside_the_planned_ones(cast, sign_in, walk):
    welcome, look, _ = walk.steps.all()
    for seconds in (240, 600):
        session = SessionFactory(lead=LeadFactory(team=cast.team), format=walk)
        StepRun.objects.create(team=cast.team, session=session, step=welcome, seconds=seconds)

    told = {row.step: row for row in planned_against_real(walk)}

    assert (told[welcome].sessions, told[welcome].mean, told[welcome].over) == (2, 7, 2)
    assert (told[welcome].least, told[welcome].most) == (4, 10)
    assert (told[look].sessions, told[look].mean) == (0, None)
    page = sign_in(cast.reader).get(made_page(cast, walk)).text
    assert "Planned against real" in page
    assert "2.0 over" in page


def test_a_format_that_was_never_run_shows_no_real_minutes(cast, sign_in, walk):
    assert planned_against_real(walk) == []
    assert "Planned against real" not in sign_in(cast.reader).get(made_page(cast, walk)).text

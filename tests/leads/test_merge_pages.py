"""The merge page shows both leads before its button, and the undo page parts them."""

import pytest

from pipeline.leads.models import Lead, Merge
from tests.factories import ContactFactory, DecisionFactory, LeadFactory
from tests.leads.pages import fill, url


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


@pytest.fixture
def alder(cast) -> Lead:
    lead = LeadFactory(team=cast.team, organisation="Alder Mill", note="First.\nSecond.")
    ContactFactory(lead=lead, name="Ines Faro", email="ines@alder.example")
    return lead


@pytest.fixture
def twin(cast) -> Lead:
    lead = LeadFactory(team=cast.team, organisation="Alder Mill Lda", owner=cast.member)
    DecisionFactory(lead=lead)
    return lead


def test_leads_of_the_same_name_are_offered_and_others_are_searched(browser, cast, alder, twin):
    birch = LeadFactory(team=cast.team, organisation="Birch Yard")
    LeadFactory(team=cast.other_team, organisation="Birch Hall")

    assert browser.get(url("lead-merge", alder.pk)).context["found"] == [twin]
    searched = browser.get(url("lead-merge", alder.pk), {"q": "birch"})
    assert searched.context["found"] == [birch]
    assert "No other lead has all of these words" in (
        browser.get(url("lead-merge", alder.pk), {"q": "elm"}).content.decode()
    )


def test_both_are_shown_side_by_side_with_what_differs(browser, alder, twin):
    page = browser.get(url("lead-merge", alder.pk), {"other": twin.pk})

    lines = {line.label: (line.one, line.two, line.differs) for line in page.context["lines"]}
    assert lines["Organisation"] == ("Alder Mill", "Alder Mill Lda", True)
    assert lines["Owner"] == ("nobody", "Mateus Coelho", True)
    assert lines["Source"] == ("—", "—", False)
    assert lines["People"][:2] == ("Ines Faro", "—")
    assert lines["Decisions"] == ("0", "1", True)
    assert not Merge.objects.exists()


@pytest.mark.parametrize("keep_the_first", [True, False])
def test_either_may_be_kept_and_a_second_click_changes_nothing(
    browser, cast, alder, twin, keep_the_first
):
    kept, gone = (alder, twin) if keep_the_first else (twin, alder)
    at = url("lead-merge", alder.pk)
    typed = fill(browser.get(at, {"other": twin.pk}), keep=str(kept.pk))
    assert typed["other"] == [str(twin.pk)]

    first = browser.post(at, typed)
    second = browser.post(at, typed, follow=True)

    assert first.url == url("lead", kept.pk)
    assert second.redirect_chain[0] == (first.url, 302)
    assert "was merged into this lead already" in second.content.decode()
    merge = Merge.objects.get()
    assert (merge.kept, merge.gone, merge.merged_by) == (kept, gone, cast.member)
    assert browser.get(url("lead-merge", gone.pk)).url == url("lead-merge", kept.pk)


@pytest.mark.parametrize(
    "typed",
    [
        {},
        {"other": "x", "keep": "1"},
        {"other": "9" * 40, "keep": "9" * 40},
        {"other": "\0"},
        {"q": "a\0b"},
    ],
)
def test_a_choice_that_is_none_says_so(browser, alder, typed):
    at = url("lead-merge", alder.pk)

    page = browser.post(at, typed)

    assert page.status_code == 422
    assert "Choose the other lead" in page.content.decode()
    assert browser.get(at, typed).status_code == 200
    assert not Merge.objects.exists()


def test_a_lead_is_neither_merged_with_itself_nor_with_another_teams(browser, cast, alder):
    theirs = LeadFactory(team=cast.other_team)
    for other in (alder, theirs):
        for keep in (alder, other):
            at = url("lead-merge", alder.pk)
            assert browser.post(at, {"other": other.pk, "keep": keep.pk}).status_code == 422
    assert not Merge.objects.exists()


def test_a_third_lead_cannot_take_one_that_is_gone(browser, cast, alder, twin):
    third = LeadFactory(team=cast.team)
    at = url("lead-merge", alder.pk)
    browser.post(at, {"other": twin.pk, "keep": twin.pk})

    page = browser.post(at, {"other": third.pk, "keep": third.pk})

    assert page.status_code == 422
    assert "merged into Alder Mill Lda" in page.content.decode()
    assert Merge.objects.count() == 1


def test_the_undo_page_says_what_moved_and_parts_them_on_a_button(browser, alder, twin):
    browser.post(url("lead-merge", alder.pk), {"other": twin.pk, "keep": twin.pk})
    merge = Merge.objects.get()
    at = url("merge-undo", merge.pk)
    assert at in browser.get(url("lead-merge", twin.pk)).content.decode()

    page = browser.get(at)
    assert "this moved: 1 contact." in page.content.decode()
    alder.refresh_from_db()
    assert alder.merged_into == twin

    first, second = browser.post(at), browser.post(at, follow=True)
    assert first.url == url("lead", alder.pk)
    assert "were parted already" in second.content.decode()
    alder.refresh_from_db()
    assert alder.merged_into is None
    assert [c.name for c in alder.contacts.all()] == ["Ines Faro"]
    assert at not in browser.get(url("lead-merge", twin.pk)).content.decode()


def test_an_earlier_merge_waits_for_the_later_one_to_be_undone(browser, cast, alder, twin):
    third = LeadFactory(team=cast.team, organisation="Alder Holding")
    browser.post(url("lead-merge", alder.pk), {"other": twin.pk, "keep": twin.pk})
    browser.post(url("lead-merge", twin.pk), {"other": third.pk, "keep": third.pk})

    page = browser.post(url("merge-undo", Merge.objects.get(kept=twin).pk))

    assert page.status_code == 422
    assert "Undo that first." in page.content.decode()

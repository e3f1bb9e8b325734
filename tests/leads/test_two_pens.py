"""Two browsers edit one lead: the second sees both versions, chooses, and loses nothing."""

import pytest

from pipeline.leads.merging import merge
from pipeline.leads.models import Lead
from pipeline.leads.recording import record_decision
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory, SourceFactory
from tests.leads.pages import fill, form_of, url


@pytest.fixture
def lead(cast) -> Lead:
    return LeadFactory(
        team=cast.team,
        organisation="Alder Mill",
        note="As it was.",
        source=SourceFactory(team=cast.team, name="trade fair"),
    )


@pytest.fixture
def first(cast, sign_in):
    return sign_in(cast.owner)


@pytest.fixture
def second(cast, sign_in):
    return sign_in(cast.member)


def stored(lead: Lead) -> tuple[str, str, str]:
    lead.refresh_from_db()
    return lead.organisation, lead.note, str(lead.source)


def test_the_second_sees_both_versions_and_nothing_is_stored_yet(lead, first, second):
    at = url("lead-edit", lead.pk)
    mine, yours = first.get(at), second.get(at)
    first.post(at, fill(mine, note="The first one's words.", source="a friend"))

    page = second.post(at, fill(yours, note="The second one's words.", organisation="Alder"))

    assert page.status_code == 409
    shown = {d.name: (d.typed, d.stored, d.untouched) for d in page.context["differences"]}
    assert shown == {
        "organisation": ("Alder", "Alder Mill", False),
        "note": ("The second one's words.", "The first one's words.", False),
        "source": ("trade fair", "a friend", True),
    }
    assert form_of(page)["note"] == ["The second one's words."]
    assert stored(lead) == ("Alder Mill", "The first one's words.", "a friend")


def test_the_second_chooses_line_by_line(lead, first, second):
    at = url("lead-edit", lead.pk)
    mine, yours = first.get(at), second.get(at)
    first.post(at, fill(mine, note="The first one's words.", source="a friend"))
    page = second.post(at, fill(yours, note="The second one's words.", organisation="Alder"))

    # as offered: what the second did not touch is taken from the first
    assert form_of(page)["take"] == ["source"]
    done = second.post(at, fill(page))

    assert done.status_code == 302
    assert stored(lead) == ("Alder", "The second one's words.", "a friend")


def test_taking_the_stored_words_keeps_the_first_ones(lead, first, second):
    at = url("lead-edit", lead.pk)
    mine, yours = first.get(at), second.get(at)
    first.post(at, fill(mine, note="The first one's words.", source="a friend"))
    page = second.post(at, fill(yours, note="The second one's words.", organisation="Alder"))

    second.post(at, fill(page, take=["note", "source"]))

    assert stored(lead) == ("Alder", "The first one's words.", "a friend")


def test_a_third_version_meanwhile_is_shown_as_well(lead, first, second):
    at = url("lead-edit", lead.pk)
    yours = second.get(at)
    first.post(at, fill(first.get(at), note="One."))
    page = second.post(at, fill(yours, note="Mine."))
    first.post(at, fill(first.get(at), note="Two."))

    again = second.post(at, fill(page))

    assert again.status_code == 409
    assert [(d.typed, d.stored) for d in again.context["differences"]] == [("Mine.", "Two.")]


def test_the_same_edit_posted_twice_is_stored_once(lead, first):
    at = url("lead-edit", lead.pk)
    typed = fill(first.get(at), note="Once.")

    assert [first.post(at, typed).status_code for _ in range(2)] == [302, 302]

    assert stored(lead)[1] == "Once."
    assert lead.version == 2


def test_a_decision_meanwhile_is_no_other_version_and_keeps_its_standing(lead, cast, first):
    at = url("lead-edit", lead.pk)
    page = first.get(at)
    record_decision(lead=lead, member=cast.member, now=NOW, kind="engaged", day=TODAY)

    assert first.post(at, fill(page, note="Words.")).status_code == 302

    lead.refresh_from_db()
    assert (lead.standing, lead.note) == ("engaged", "Words.")


def test_an_edit_of_a_lead_that_was_merged_meanwhile_is_refused_and_kept(lead, cast, first):
    at = url("lead-edit", lead.pk)
    page = first.get(at)
    kept = LeadFactory(team=cast.team, organisation="Alder Holding")
    merge(kept=kept, gone=lead, member=cast.member, now=NOW)

    refused = first.post(at, fill(page, note="Long and thoughtful."))

    assert refused.status_code == 422
    assert "merged into Alder Holding" in refused.content.decode()
    assert form_of(refused)["note"] == ["Long and thoughtful."]
    assert first.get(at).url == url("lead-edit", kept.pk)


def test_an_owner_who_only_reads_by_now_stays_the_owner(lead, cast, first):
    lead.owner = cast.reader
    lead.save()
    at = url("lead-edit", lead.pk)

    assert first.post(at, fill(first.get(at), note="Words.")).status_code == 302

    lead.refresh_from_db()
    assert lead.owner == cast.reader


def test_opened_and_saved_untouched_a_lead_stays_as_it_was(lead, first):
    at = url("lead-edit", lead.pk)
    before = Lead.objects.values().get(pk=lead.pk)

    first.post(at, fill(first.get(at)))

    after = Lead.objects.values().get(pk=lead.pk)
    assert {k: v for k, v in after.items() if k not in ("version", "standing_since")} == {
        k: v for k, v in before.items() if k not in ("version", "standing_since")
    }


@pytest.mark.parametrize("version", ["", "0", "x", "9" * 30])
def test_a_version_that_is_none_loses_nothing(lead, first, version):
    at = url("lead-edit", lead.pk)

    page = first.post(at, fill(first.get(at), note="Mine.", version=version))

    assert page.status_code in (409, 422)
    assert form_of(page)["note"] == ["Mine."]
    assert stored(lead)[1] == "As it was."

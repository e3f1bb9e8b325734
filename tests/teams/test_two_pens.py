"""Many write at once: what was acknowledged is stored, and nothing else is."""

import uuid

import pytest
from django.db import connections

from pipeline.leads.models import Contact, Lead, Source
from pipeline.teams.forms import VersionedForm
from pipeline.teams.models import Stale, Submission
from pipeline.teams.once import do_once
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory
from tests.followups.threads import at_once
from tests.leads.pages import fill, form_of, url

WRITERS = 20


def test_of_two_who_opened_the_same_version_one_saves(cast):
    lead = LeadFactory(team=cast.team, note="as it was")
    mine, yours = Lead.objects.get(pk=lead.pk), Lead.objects.get(pk=lead.pk)
    mine.note, yours.note = "mine", "yours"
    mine.save_version(1)
    with pytest.raises(Stale):
        yours.save_version(1)
    lead.refresh_from_db()
    assert (lead.note, lead.version) == ("mine", 2)


def test_twenty_edits_at_once_store_exactly_what_was_acknowledged(transactional_db, cast):
    lead = LeadFactory(team=cast.team, note="")
    acknowledged: list[int] = []

    def edit(writer: int) -> None:
        # Each opens the form anew until its line is in; nobody overwrites anybody.
        while True:
            row = Lead.objects.get(pk=lead.pk)
            row.note += f"{writer};"
            try:
                row.save_version(row.version)
            except Stale:
                continue
            acknowledged.append(writer)
            return

    assert at_once(*(lambda n=n: edit(n) for n in range(WRITERS))) == []
    lead.refresh_from_db()
    assert sorted(acknowledged) == list(range(WRITERS))
    assert sorted(map(int, lead.note.rstrip(";").split(";"))) == list(range(WRITERS))
    assert lead.version == 1 + WRITERS


def test_of_twenty_who_opened_one_version_one_is_acknowledged(transactional_db, cast):
    lead = LeadFactory(team=cast.team, note="")
    acknowledged: list[int] = []
    stale: list[int] = []

    def edit(writer: int) -> None:
        row = Lead.objects.get(pk=lead.pk)
        row.note = str(writer)
        try:
            row.save_version(1)
        except Stale:
            stale.append(writer)
        else:
            acknowledged.append(writer)

    assert at_once(*(lambda n=n: edit(n) for n in range(WRITERS))) == []
    lead.refresh_from_db()
    assert [str(writer) for writer in acknowledged] == [lead.note]
    assert len(stale) == WRITERS - 1


def test_one_form_posted_many_times_at_once_does_its_work_once(transactional_db, cast):
    key = uuid.uuid4()
    answers: list[tuple[str, bool]] = []

    def work() -> str:
        return f"/made/{Source.objects.create(team=cast.team, name=str(uuid.uuid4())).pk}"

    def post() -> None:
        answers.append(do_once(team=cast.team, key=key, now=NOW, work=work))

    assert at_once(*[post] * 8) == []
    assert Source.objects.for_team(cast.team).count() == 1
    assert Submission.objects.filter(team=cast.team).count() == 1
    assert len({where for where, _ in answers}) == 1
    assert sorted(first for _, first in answers) == [False] * 7 + [True]


def test_on_sqlite_many_wait_for_each_other_in_a_file():
    """In memory nobody waits, and the tests above would say nothing of the default database."""
    database = connections["default"]
    if database.vendor == "sqlite":
        assert "memory" not in str(database.settings_dict["NAME"])
        assert database.settings_dict["OPTIONS"]["transaction_mode"] == "IMMEDIATE"


def test_a_row_that_somebody_removed_meanwhile_loses_nothing_that_was_typed(
    cast, sign_in, monkeypatch
):
    contact = ContactFactory(lead=LeadFactory(team=cast.team), name="Ada Winter")
    browser = sign_in(cast.member)
    page = browser.get(url("contact-edit", contact.pk))
    check = VersionedForm._post_clean

    # Gone between the look at the row and the save.
    def check_too_late(form: VersionedForm) -> None:
        check(form)
        Contact.objects.filter(pk=form.instance.pk).delete()

    monkeypatch.setattr(VersionedForm, "_post_clean", check_too_late)
    answer = browser.post(url("contact-edit", contact.pk), fill(page, name="Ada Winter-Low"))
    assert answer.status_code == 409
    assert "Somebody removed this while you were writing" in answer.content.decode()
    assert form_of(answer)["name"] == ["Ada Winter-Low"]

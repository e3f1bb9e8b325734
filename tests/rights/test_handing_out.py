"""Everything about one person as an archive: complete, readable, under names of our own."""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from django.apps import apps

from pipeline.enquiries.models import Enquiry
from pipeline.leads.models import Contact
from pipeline.mail.models import StoppedAddress, digest_of
from pipeline.rights.archive import write_archive
from pipeline.rights.erasing import erase
from pipeline.rights.gathering import gather
from pipeline.rights.models import DataAct
from sessions.models import SharedTakeaway
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory
from tests.leads.pages import fill, url
from tests.rights.people import ADDRESS, COLLEAGUE, NAME, ana_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    return ana_of(cast)


def archive_of(contact, team):
    with write_archive(gather(contact, team), team, NOW) as archive:
        return zipfile.ZipFile(io.BytesIO(archive.read()))


def said_of(contact, team):
    return json.loads(archive_of(contact, team).read("data.json"))


def test_it_holds_who_they_are_and_every_kind_of_row(cast, ana):
    said = said_of(ana, cast.team)
    assert said["person"] == {
        "name": NAME,
        "e-mail": ADDRESS,
        "role": "Head",
        "time zone": "Asia/Tokyo",
        "at": "Fernwick Library",
        "erased at": None,
    }
    kinds = [row["kind"] for row in said["rows"]]
    assert {kind: kinds.count(kind) for kind in kinds} == {
        "agreement to letters": 1,
        "conversation": 1,
        "decision": 1,
        "deliverable": 1,
        "invitation": 1,
        "letter": 3,
        "letter to a lead": 1,
        "note": 1,
        "offer of times": 1,
        "session": 1,
        "spreadsheet taken in": 1,
        "takeaway sent by link": 1,
    }
    assert said["asked for no more letters at"] is None


def test_an_agreement_tells_day_wording_and_how(cast, ana):
    (row,) = (r for r in said_of(ana, cast.team)["rows"] if r["kind"] == "agreement to letters")
    assert row["day"] == "2026-03-03"
    assert (row["how"], row["said"]) == ("in writing", "You may write to Ana.")
    assert row["recorded by"] == str(cast.member)


def test_that_they_asked_for_no_more_letters_is_told(cast, ana):
    StoppedAddress.objects.create(
        team=cast.team, address=digest_of(ADDRESS), stopped_at=NOW, by=None
    )
    assert said_of(ana, cast.team)["asked for no more letters at"] == NOW.isoformat()


def test_the_changes_of_their_row_are_told_with_both_values(cast, ana):
    Contact.objects.filter(pk=ana.pk).update(role="Director")
    (change,) = said_of(Contact.objects.get(pk=ana.pk), cast.team)[
        "changes of the person's own row"
    ]
    assert change["fields"] == [{"field": "Role", "before": "Head", "after": "Director"}]


def test_the_files_sent_to_them_are_in_it_under_names_of_our_own(cast, ana):
    whole = archive_of(ana, cast.team)
    (name,) = (n for n in whole.namelist() if n.startswith("files/"))
    assert whole.read(name) == b"%PDF-1.4 hers"
    (row,) = (r for r in said_of(ana, cast.team)["rows"] if "file in this archive" in r)
    assert row["file in this archive"] == name


@pytest.mark.parametrize(
    "hostile", ["../../etc/passwd", "a\\b.pdf", "CON", "x" * 180, "\u202efdp"]
)
def test_no_name_from_outside_becomes_a_name_in_it(cast, ana, hostile):
    SharedTakeaway.objects.update(file_name=hostile)
    names = archive_of(ana, cast.team).namelist()
    assert all(name.isascii() and ".." not in name and "\\" not in name for name in names)
    assert set(names) - {"data.json", "read this.txt"} == {
        name for name in names if name.startswith("files/") and name.endswith(".pdf")
    }


def test_a_file_that_is_gone_does_not_stop_it(cast, ana):
    shared = SharedTakeaway.objects.get()
    shared.file.storage.delete(shared.file.name)
    archive = archive_of(ana, cast.team)
    assert not [name for name in archive.namelist() if name.startswith("files/")]
    assert "data.json" in archive.namelist()


def test_nothing_secret_and_nobody_elses_place_in_a_list_is_in_it(cast, ana):
    told = archive_of(ana, cast.team).read("data.json").decode()
    assert SharedTakeaway.objects.get().token not in told
    (invitation,) = (r for r in json.loads(told)["rows"] if r["kind"] == "invitation")
    assert COLLEAGUE not in json.dumps(invitation)


def test_nothing_of_another_team_is_in_it(cast, ana):
    theirs = ContactFactory(
        lead=LeadFactory(team=cast.other_team, note=f"{NAME} of Quarry"), name=NAME, email=ADDRESS
    )
    assert "Quarry" not in archive_of(ana, cast.team).read("data.json").decode()
    assert [row["kind"] for row in said_of(theirs, cast.other_team)["rows"]] == ["lead"]


def test_every_table_that_points_to_a_person_is_gathered(cast, ana):
    """A new one is found by itself: the relations come from the registry."""
    DataAct.objects.create(team=cast.team, contact=ana, at=NOW, what_for="x", done="erased")
    Enquiry.objects.create(team=cast.team, lead=ana.lead, contact=ana, received_at=NOW)
    pointing = {
        model._meta.label_lower
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if field.concrete and field.related_model is Contact
    }
    gathered = {row.row._meta.label_lower for row in gather(ana, cast.team).rows}
    assert pointing <= gathered


def test_of_an_erased_person_only_facts_are_left(cast, ana):
    erase(contact=ana, member=cast.owner, now=NOW, what_for="asked")
    ana.refresh_from_db()
    whole = archive_of(ana, cast.team)
    assert {row["kind"] for row in said_of(ana, cast.team)["rows"]} == {
        "agreement to letters",
        "letter to a lead",
        "note on data",
        "offer of times",
        "session",
    }
    assert NAME not in whole.read("data.json").decode()


def test_the_page_counts_and_the_button_hands_out_and_notes_it_once(cast, ana, sign_in):
    browser = sign_in(cast.owner)
    page = browser.get(url("contact-data", ana.pk))
    assert "Takeaway sent by link" in page.content.decode()
    typed = fill(page, what_for="asked for by letter")
    for _ in range(2):
        answer = browser.post(url("contact-data", ana.pk), typed)
        content = b"".join(answer.streaming_content)
        assert "data.json" in zipfile.ZipFile(io.BytesIO(content)).namelist()
        assert answer.headers["Content-Disposition"].startswith("attachment")
        assert answer.headers["Cache-Control"] == "private, no-store"
    act = DataAct.objects.get()
    assert (act.done, act.by, act.at, act.what_for) == (
        "handed out",
        cast.owner,
        NOW,
        "asked for by letter",
    )
    assert "asked for by letter" in browser.get(url("rights")).content.decode()


def test_without_a_reason_nothing_is_handed_out(cast, ana, sign_in):
    browser = sign_in(cast.owner)
    answer = browser.post(
        url("contact-data", ana.pk), fill(browser.get(url("contact-data", ana.pk)))
    )
    assert answer.status_code == 422
    assert not DataAct.objects.exists()

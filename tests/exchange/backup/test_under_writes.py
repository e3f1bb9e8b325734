"""A backup that is taken while others write holds one moment, whole."""

import threading

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction

from pipeline.exchange.backup.restoring import restore_backup
from pipeline.exchange.backup.taking import take_backup
from pipeline.leads.models import Lead, LogEntry
from pipeline.teams.refused import Refused
from sessions.files import put_file, remove_file
from sessions.models import Deliverable
from tests.conftest import NOW
from tests.exchange.backup.conftest import BEFORE, unheard
from tests.exchange.backup.places import elsewhere, every_file, every_row
from tests.factories import DeliverableFactory, LeadFactory, LogEntryFactory
from tests.followups.threads import at_once

WRITERS = 2


def test_what_is_written_together_is_kept_together(transactional_db, cast, tmp_path):
    path, over = tmp_path / "kept.zip", threading.Event()
    written = [0] * WRITERS
    before = []

    def write(which):
        """One after the other: a lead with an entry, and with something owed and its file."""
        while not over.is_set():
            number = written[which] + 1
            with transaction.atomic():
                lead = LeadFactory(team=cast.team, organisation=f"{which} no. {number}")
                LogEntryFactory(lead=lead, gist=f"entry {number}")
                row = DeliverableFactory(lead=lead, owner=cast.member)
                upload = SimpleUploadedFile(f"{number}.pdf", b"%PDF-1.4 of " + name_of(row))
                put_file(deliverable=row, member=cast.member, now=NOW, upload=upload, replaces="")
            written[which] = number

    def keep():
        try:
            while min(written) < 3:
                over.wait(0.01)
            before.extend(written)
            take_backup(path, now=NOW, say=unheard)
        finally:
            over.set()

    works = [lambda which=which: write(which) for which in range(WRITERS)]
    assert at_once(keep, *works) == []
    in_the_end, files_in_the_end = every_row(), every_file()

    with elsewhere(tmp_path / "elsewhere"):
        restore_backup(path, now=BEFORE, say=unheard)
        for which in range(WRITERS):
            leads = Lead.objects.filter(organisation__startswith=f"{which} no. ")
            # All that was acknowledged before it began, none left out, and each with its entry.
            numbers = sorted(int(lead.organisation.split()[-1]) for lead in leads)
            assert numbers == list(range(1, len(numbers) + 1))
            assert before[which] <= len(numbers) <= written[which]
            assert LogEntry.objects.filter(lead__in=leads).count() == len(numbers)
            owed = Deliverable.objects.filter(lead__in=leads)
            assert len(owed) == len(numbers)
            for row in owed:
                with row.file.open() as file:
                    assert file.read() == b"%PDF-1.4 of " + name_of(row)
        found = every_row()
        assert {table for table in found if not set(found[table]) <= set(in_the_end[table])} <= {
            # how far its keys had come
            "sqlite_sequence"
        }
        assert set(every_file().items()) <= set(files_in_the_end.items())


def name_of(row):
    return str(row.pk).encode()


@pytest.fixture
def with_file(transactional_db, cast):
    row = DeliverableFactory(lead=LeadFactory(team=cast.team), owner=cast.member)
    row.file.save("first.pdf", ContentFile(b"%PDF-1.4 first"))
    return row


def test_an_upload_that_goes_away_after_the_dump_has_it_begin_anew(with_file, cast, tmp_path):
    said, gone = [], []

    def remove_once(words):
        said.append(words)
        if not gone and words == "Copying the uploads.":
            row = Deliverable.objects.get(pk=with_file.pk)
            gone.append(row.file.name)
            remove_file(deliverable=row, member=cast.member, now=NOW, replaces=row.file.name)

    made = take_backup(tmp_path / "kept.zip", now=NOW, say=remove_once)
    assert "Uploads went away meanwhile; beginning anew." in said
    assert gone[0] not in str(made.members)
    assert made.lost == ()
    with elsewhere(tmp_path / "elsewhere"):
        restore_backup(tmp_path / "kept.zip", now=BEFORE, say=unheard)
        assert Deliverable.objects.get(pk=with_file.pk).file.name == ""


def test_where_uploads_go_away_every_time_it_is_refused_and_nothing_is_left(
    with_file, cast, tmp_path
):
    def replace(words):
        if words == "Copying the uploads.":
            row = Deliverable.objects.get(pk=with_file.pk)
            upload = SimpleUploadedFile("next.pdf", b"%PDF-1.4 next")
            put_file(
                deliverable=row,
                member=cast.member,
                now=NOW,
                upload=upload,
                replaces=row.file.name,
            )

    with pytest.raises(Refused, match="at a quieter hour"):
        take_backup(tmp_path / "kept.zip", now=NOW, say=replace)
    assert [path.name for path in tmp_path.iterdir() if "kept" in path.name] == []


def test_an_upload_that_was_lost_before_is_named_and_keeps_nothing_back(with_file, tmp_path):
    with_file.file.storage.delete(with_file.file.name)
    made = take_backup(tmp_path / "kept.zip", now=NOW, say=unheard)
    assert made.lost == (with_file.file.name,)
    with elsewhere(tmp_path / "elsewhere"):
        restored = restore_backup(tmp_path / "kept.zip", now=BEFORE, say=unheard).manifest
        assert restored.lost == made.lost
        assert every_file() == {}


def test_a_file_of_a_removed_row_that_can_be_put_back_goes_with_it(with_file, tmp_path):
    name = with_file.file.name
    Deliverable.objects.filter(pk=with_file.pk).delete()
    take_backup(tmp_path / "kept.zip", now=NOW, say=unheard)
    with elsewhere(tmp_path / "elsewhere"):
        restore_backup(tmp_path / "kept.zip", now=BEFORE, say=unheard)
        assert name in every_file()


def test_no_name_of_an_upload_ever_comes_back_for_another_file(with_file, cast):
    names = {with_file.file.name}
    row = with_file
    for number in range(4):
        upload = SimpleUploadedFile("same.pdf", b"%%PDF-1.4 %d" % number)
        row = put_file(
            deliverable=row, member=cast.member, now=NOW, upload=upload, replaces=row.file.name
        )
        assert row.file.name not in names
        names.add(row.file.name)

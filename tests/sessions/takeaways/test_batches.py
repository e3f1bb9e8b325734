"""All takeaways of a month: rows first, set by whoever has time, each once."""

import io
import threading
import uuid
import zipfile
from datetime import date, timedelta

import pytest

from pipeline.claims import waking
from pipeline.followups.sweep import sweep
from pipeline.jobs.models import Job
from pipeline.jobs.running import run_jobs
from pipeline.teams.refused import Refused
from sessions.models import Batch, BatchItem
from sessions.takeaways import batches
from sessions.takeaways.batches import ask, progress_of
from sessions.takeaways.setting import set_takeaway
from tests.conftest import NOW
from tests.factories import LeadFactory, SessionFactory
from tests.followups.threads import at_once
from tests.sessions.pages import at, said

from .conftest import kept

MARCH = date(2026, 3, 1)


@pytest.fixture
def month(cast, heard):
    """Two sessions held in March, one in February, one missed, one of another team."""
    SessionFactory(lead=LeadFactory(team=cast.team), state="held", day=date(2026, 3, 31))
    SessionFactory(lead=LeadFactory(team=cast.team), state="held", day=date(2026, 2, 28))
    SessionFactory(lead=LeadFactory(team=cast.team), state="missed", day=date(2026, 3, 2))
    SessionFactory(lead=LeadFactory(team=cast.other_team), state="held", day=date(2026, 3, 2))


def asked(cast) -> Batch:
    return ask(team=cast.team, member=cast.member, now=NOW, month=date(2026, 3, 17))


def test_a_batch_holds_the_sessions_held_in_that_month(cast, heard, month):
    batch = asked(cast)
    assert batch.month == MARCH
    assert [item.session.day for item in batch.items.all()] == [heard.day, date(2026, 3, 31)]


def test_a_month_without_a_held_session_is_refused(cast):
    with pytest.raises(Refused) as refused:
        asked(cast)
    assert refused.value.field == "month"


def items(batch):
    return list(BatchItem.objects.filter(batch=batch).with_given_up())


def test_a_round_of_due_work_sets_what_waits_and_the_next_one_has_nothing_to_do(
    cast, heard, month
):
    batch = asked(cast)
    sweep(NOW)
    assert Job.objects.filter(kind="takeaway", done_at=NOW).count() == 2
    assert sweep(NOW).jobs == 0
    item = batch.items.get(session=heard)
    assert kept(item.file) == set_takeaway(heard).pdf
    assert progress_of(items(batch)).left == 0


def test_several_workers_at_once_set_each_takeaway_once(transactional_db, cast, heard, month):
    asked(cast)
    done: list[int] = []
    assert at_once(*[lambda: done.append(run_jobs(NOW))] * 3) == []
    assert sum(done) == 2
    assert {job.attempts for job in Job.objects.all()} == {1}


def test_what_fails_holds_up_no_other_and_is_given_up_in_the_end(
    cast, heard, month, monkeypatch, caplog
):
    batch = asked(cast)

    def fail_for_one(session):
        if session.pk == heard.pk:
            raise RuntimeError("no room on the disk")
        return set_takeaway(session)

    monkeypatch.setattr(batches, "set_takeaway", fail_for_one)
    assert run_jobs(NOW) == 1
    assert run_jobs(NOW) == 0, "it waits before it is tried again"
    for days in range(1, Job.tries):
        assert run_jobs(NOW + timedelta(days=days)) == 0
    assert caplog.text.count("no room on the disk") >= Job.tries
    progress = progress_of(items(batch))
    assert (progress.done, progress.given_up, progress.left) == (1, 1, 0)

    monkeypatch.undo()
    Job.objects.all().revive(now=NOW)
    assert run_jobs(NOW) == 1
    assert progress_of(items(batch)).done == 2


def test_what_cannot_be_stored_leaves_no_file(cast, heard, month, monkeypatch, settings):
    batch = asked(cast)

    def fail(*args, **kwargs):
        raise RuntimeError("no room in the table")

    monkeypatch.setattr(BatchItem, "save", fail)
    assert run_jobs(NOW) == 0
    assert [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()] == []
    assert batch.items.get(session=heard).done_at is None


def test_asking_again_takes_the_place_of_the_earlier_batch_and_its_files(
    cast, heard, month, django_capture_on_commit_callbacks
):
    earlier = asked(cast)
    run_jobs(NOW)
    file = earlier.items.get(session=heard).file
    with django_capture_on_commit_callbacks(execute=True):
        ask(team=cast.team, member=cast.member, now=NOW + timedelta(hours=1), month=MARCH)
    assert Batch.objects.count() == 1
    assert run_jobs(NOW + timedelta(hours=1)) == 2
    assert not file.storage.exists(file.name)


def test_the_page_asks_once_tells_how_far_it_is_and_hands_all_out(cast, sign_in, heard, month):
    browser = sign_in(cast.member)
    data = {"submission": str(uuid.uuid4()), "month": "2026-03"}
    answer = browser.post(at(cast.team, "takeaways"), data)
    again = browser.post(at(cast.team, "takeaways"), data, follow=True)
    assert "Already done, once" in said(again)[-1]
    batch = Batch.objects.get()
    assert answer.url == at(cast.team, "batch", batch.pk)
    assert "0 of 2 are set" in browser.get(answer.url).content.decode()
    part = browser.get(answer.url, headers={"HX-Request": "true"}).content.decode()
    assert "hx-trigger" in part
    assert "<html" not in part
    assert browser.get(at(cast.team, "batch-zip", batch.pk)).status_code == 302

    run_jobs(NOW)
    part = browser.get(answer.url, headers={"HX-Request": "true"}).content.decode()
    assert "2 of 2 are set" in part
    assert "hx-trigger" not in part
    file = sign_in(cast.reader).get(at(cast.team, "batch-zip", batch.pk))
    archive = zipfile.ZipFile(io.BytesIO(b"".join(file.streaming_content)))
    assert archive.testzip() is None
    first = "001 Fernwick-Library-takeaway-2026-03-03.pdf"
    assert len(archive.namelist()) == 2
    assert archive.read(first) == set_takeaway(heard).pdf


@pytest.mark.parametrize("month", ["", "2026-13", "March", "2026-04"])
def test_a_wrong_month_is_told_at_the_field(cast, sign_in, month):
    data = {"submission": str(uuid.uuid4()), "month": month}
    answer = sign_in(cast.member).post(at(cast.team, "takeaways"), data)
    assert answer.status_code == 422
    assert "month" in answer.context["form"].errors


def test_whoever_does_due_work_is_woken(
    cast, heard, month, django_capture_on_commit_callbacks, monkeypatch
):
    monkeypatch.setattr(waking, "bell", threading.Event())
    with django_capture_on_commit_callbacks(execute=True):
        asked(cast)
    assert waking.bell.is_set()

"""All takeaways of a month: rows first, set by whoever has time, each once."""

import io
import uuid
import zipfile
from datetime import date, timedelta

import pytest
from django.test import override_settings
from kombu.exceptions import OperationalError

from pipeline.followups.sweep import sweep
from pipeline.teams.refused import Refused
from sessions import tasks
from sessions.models import Batch, BatchItem
from sessions.models.batch import ATTEMPTS, LEASE
from sessions.takeaways import batches
from sessions.takeaways.batches import ask, progress_of, set_waiting
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


def test_a_round_of_due_work_sets_what_waits_and_the_next_one_has_nothing_to_do(
    cast, heard, month
):
    batch = asked(cast)
    assert sweep(NOW).takeaways == 2
    assert sweep(NOW).takeaways == 0
    item = batch.items.get(session=heard)
    assert kept(item.file) == set_takeaway(heard).pdf
    assert progress_of(list(batch.items.all())).left == 0


def test_several_workers_at_once_set_each_takeaway_once(transactional_db, cast, heard, month):
    asked(cast)
    done: list[int] = []
    assert at_once(*[lambda: done.append(set_waiting(NOW))] * 3) == []
    assert sum(done) == 2
    assert {item.attempts for item in BatchItem.objects.all()} == {1}


def test_what_fails_holds_up_no_other_and_is_given_up_in_the_end(
    cast, heard, month, monkeypatch, caplog
):
    batch = asked(cast)

    def fail_for_one(session):
        if session.pk == heard.pk:
            raise RuntimeError("no room on the disk")
        return set_takeaway(session)

    monkeypatch.setattr(batches, "set_takeaway", fail_for_one)
    now = NOW
    assert set_waiting(now) == 1
    assert set_waiting(now) == 0, "its claim has not run out"
    for _ in range(ATTEMPTS):
        now += LEASE
        assert set_waiting(now) == 0
    item = batch.items.get(session=heard)
    assert (item.attempts, item.given_up) == (ATTEMPTS, True)
    assert caplog.text.count("no room on the disk") >= ATTEMPTS
    progress = progress_of(list(batch.items.all()))
    assert (progress.done, progress.given_up, progress.left) == (1, 1, 0)


def test_a_worker_that_lost_its_claim_keeps_nothing(cast, heard, month, monkeypatch):
    batch = asked(cast)
    item = BatchItem.objects.claim(batch.items.get(session=heard).pk, now=NOW)
    BatchItem.objects.filter(pk=item.pk).update(claim=uuid.uuid4())
    assert not batches._set(item, NOW)
    assert not item.file.storage.exists(item.file.name)
    assert batch.items.get(session=heard).done_at is None


def test_asking_again_takes_the_place_of_the_earlier_batch_and_its_files(
    cast, heard, month, django_capture_on_commit_callbacks
):
    earlier = asked(cast)
    set_waiting(NOW)
    file = earlier.items.get(session=heard).file
    with django_capture_on_commit_callbacks(execute=True):
        ask(team=cast.team, member=cast.member, now=NOW + timedelta(hours=1), month=MARCH)
    assert Batch.objects.count() == 1
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

    set_waiting(NOW)
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


def test_a_worker_is_woken_where_there_are_any_and_a_lost_broker_loses_nothing(
    cast, heard, month, monkeypatch, caplog
):
    batch, woken = asked(cast), []
    monkeypatch.setattr(tasks.set_batch, "apply_async", lambda *a, **k: woken.append((a, k)))
    tasks.wake_for(batch.pk)
    assert woken == []
    with override_settings(REDIS_URL="redis://127.0.0.1:1/0"):
        tasks.wake_for(batch.pk)
        assert woken == [(((batch.pk,),), {"retry": False})]

        def unreachable(*args, **kwargs):
            raise OperationalError("no broker")

        monkeypatch.setattr(tasks.set_batch, "apply_async", unreachable)
        tasks.wake_for(batch.pk)
    assert "the next round sets it" in caplog.text
    tasks.set_batch(batch.pk)
    assert progress_of(list(batch.items.all())).done == 2

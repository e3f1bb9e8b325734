"""Letters are claimed, carried outside a transaction, and marked; one holds up no other."""

import itertools
from datetime import timedelta

import pytest
from django.db import connection

from pipeline.claims.due import LEASE
from pipeline.mail import delivery
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter
from tests.conftest import NOW
from tests.mail.letters import letter_to


class Carried:
    """Remembers what it carried; refuses what it is told to."""

    def __init__(self, refuses=()):
        self.subjects, self.refuses, self.in_transaction = [], refuses, []

    def close(self):
        pass

    def carry(self, letter):
        self.in_transaction.append(connection.in_atomic_block)
        if letter.subject in self.refuses:
            raise OSError("the mail server is away")
        self.subjects.append(letter.subject)


@pytest.mark.django_db
def test_a_waiting_letter_is_delivered_once(cast):
    letter_to(cast.member)
    carrier = Carried()
    assert deliver(NOW, carrier) == 1
    assert deliver(NOW + timedelta(hours=1), carrier) == 0
    assert carrier.subjects == ["To Mateus Coelho"]
    assert Letter.objects.get().sent_at == NOW


@pytest.mark.django_db
def test_without_a_carrier_a_letter_is_kept_and_counts_as_delivered(cast):
    letter_to(cast.member)
    assert deliver(NOW) == 1
    assert Letter.objects.get().sent_at == NOW


@pytest.mark.django_db
def test_a_letter_of_a_later_hour_waits(cast):
    letter_to(cast.member, due_at=NOW + timedelta(minutes=1))
    assert deliver(NOW, Carried()) == 0


@pytest.mark.django_db(transaction=True)
def test_no_transaction_is_open_while_a_letter_is_carried(cast):
    letter_to(cast.member)
    carrier = Carried()
    deliver(NOW, carrier)
    assert carrier.in_transaction == [False]


@pytest.mark.django_db
def test_one_that_is_refused_holds_up_no_other_and_is_tried_again_after_a_minute(cast):
    letter_to(cast.member, subject="bad")
    letter_to(cast.owner, subject="good", key="second")
    assert deliver(NOW, Carried(refuses=["bad"])) == 1

    carrier = Carried()
    assert deliver(NOW + timedelta(seconds=29), carrier) == 0
    assert deliver(NOW + timedelta(minutes=1), carrier) == 1
    assert carrier.subjects == ["bad"]
    assert Letter.objects.get(subject="bad").attempts == 2


@pytest.mark.django_db
def test_those_that_are_refused_again_and_again_crowd_no_round_out(cast, monkeypatch):
    letter_to(cast.member, subject="bad")
    carrier = Carried(refuses=["bad"])
    deliver(NOW, carrier, most=1)
    letter_to(cast.owner, subject="good", key="second", due_at=NOW + LEASE)
    assert deliver(NOW + LEASE, carrier, most=2) == 1


@pytest.mark.django_db
def test_a_mail_server_that_is_slow_keeps_no_call_for_longer_than_ten_minutes(cast, monkeypatch):
    minutes = itertools.count()
    monkeypatch.setattr(
        delivery, "running_from", lambda now: lambda: now + timedelta(minutes=next(minutes))
    )
    for n in range(20):
        letter_to(cast.member, key=str(n))
    carrier = Carried()
    sent = deliver(NOW, carrier)
    assert 0 < sent < 10
    assert Letter.objects.waiting(NOW).count() == 20 - sent


@pytest.mark.django_db
def test_who_lost_its_claim_does_not_mark_the_letter(cast):
    letter_to(cast.member)
    slow = Letter.objects.claim_next(now=NOW)
    quick = Letter.objects.claim_next(now=NOW + LEASE)
    assert slow.finish(sent_at=NOW + LEASE) is False
    assert quick.finish(sent_at=NOW + LEASE) is True


@pytest.mark.django_db
def test_of_two_workers_one_gets_a_letter(cast):
    letter_to(cast.member)
    assert Letter.objects.claim_next(now=NOW) is not None
    assert Letter.objects.claim_next(now=NOW) is None

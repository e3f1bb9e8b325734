"""Letters go out by SMTP: taken, put off, refused for good, or lost on the way and sent again."""

import smtplib
import socket
from contextlib import contextmanager

import pytest
from aiosmtpd.controller import Controller

from pipeline.env import MailServer
from pipeline.mail.carriers import RefusedForGood
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter
from pipeline.mail.outbox import message_id
from pipeline.mail.smtp import Smtp
from tests.conftest import NOW
from tests.mail.letters import letter_to


class Sink:
    """Keeps what it takes; answers RCPT and DATA as it is told to."""

    def __init__(self):
        self.messages, self.connections = [], 0
        self.to_rcpt = self.to_data = ""
        self.drops = False

    async def handle_EHLO(self, server, session, envelope, hostname, responses):
        self.connections += 1
        session.host_name = hostname
        return responses

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.to_rcpt:
            return self.to_rcpt
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if self.drops:
            server.transport.abort()
            return "250 OK"
        if self.to_data:
            return self.to_data
        self.messages.append((envelope.mail_from, envelope.rcpt_tos, envelope.content))
        return "250 OK"


@contextmanager
def served(sink):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    control = Controller(sink, hostname="127.0.0.1", port=port)
    control.start()
    # that it listens was found out by a connection of its own
    sink.connections = 0
    try:
        yield port
    finally:
        control.stop()


@pytest.fixture
def sink():
    return Sink()


@pytest.fixture
def carrier(sink, cast):
    with served(sink) as port:
        made = Smtp(MailServer(host="127.0.0.1", port=port))
        yield made
        made.close()


def test_the_server_is_handed_the_letter_as_its_message(cast, sink, carrier):
    letter = letter_to(cast.member, subject="Café")
    assert deliver(NOW, carrier) == 1
    ((sender, to, content),) = sink.messages
    assert (sender, to) == ("letters@127.0.0.1", ["mateus@harbour.example"])
    assert f"Message-ID: {message_id(letter)}".encode() in content
    assert Letter.objects.get().sent_at == NOW


def test_many_letters_take_one_connection(cast, sink, carrier):
    for n in range(5):
        letter_to(cast.member, key=str(n))
    assert deliver(NOW, carrier) == 5
    assert (len(sink.messages), sink.connections) == (5, 1)


@pytest.mark.parametrize("where", ["to_rcpt", "to_data"])
def test_what_is_put_off_is_tried_again_and_the_next_one_goes(cast, sink, carrier, where):
    letter = letter_to(cast.member)
    setattr(sink, where, "451 Come again")
    with pytest.raises(smtplib.SMTPResponseException, match="451"):
        carrier.carry(letter)
    setattr(sink, where, "")
    carrier.carry(letter)
    assert (len(sink.messages), sink.connections) == (1, 1)


@pytest.mark.parametrize("where", ["to_rcpt", "to_data"])
def test_what_is_refused_for_good_is_given_up_at_once(cast, sink, carrier, where):
    letter_to(cast.member)
    setattr(sink, where, "550 No such person")
    assert deliver(NOW, carrier) == 0
    stored = Letter.objects.get()
    assert stored.gave_up_at == NOW
    assert "550" in stored.last_error
    assert stored.attempts == 1


def test_after_a_connection_that_broke_the_next_letter_takes_another(cast, sink, carrier):
    letter = letter_to(cast.member)
    sink.drops = True
    with pytest.raises((smtplib.SMTPException, OSError)):
        carrier.carry(letter)
    sink.drops = False
    carrier.carry(letter)
    assert (len(sink.messages), sink.connections) == (1, 2)


def test_a_server_that_is_away_leaves_the_letter_waiting(cast):
    letter_to(cast.member)
    # nothing listens on port 9, the discard port, here
    assert deliver(NOW, Smtp(MailServer(host="127.0.0.1", port=9))) == 0
    stored = Letter.objects.get()
    assert stored.sent_at is None
    assert stored.next_attempt_at > NOW
    assert stored.last_error


def test_a_password_is_never_sent_in_the_clear(cast, sink):
    with served(sink) as port:
        server = MailServer(host="127.0.0.1", port=port, user="desk", password="secret")
        with pytest.raises(smtplib.SMTPNotSupportedError, match="not sent in the clear"):
            Smtp(server).carry(letter_to(cast.member))
    assert sink.messages == []


def test_refused_for_good_says_what_the_server_said(cast, sink, carrier):
    sink.to_rcpt = "550 5.1.1 No such person"
    with pytest.raises(RefusedForGood, match=r"5\.1\.1 No such person"):
        carrier.carry(letter_to(cast.member))

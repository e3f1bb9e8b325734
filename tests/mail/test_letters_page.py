"""Letters are readable in the app, whatever they hold."""

from datetime import timedelta

import pytest
from django.urls import reverse

from pipeline.env import MailServer
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter, StoppedAddress, Stops, digest_of
from tests.conftest import NOW
from tests.followups.queries import tables
from tests.mail.letters import letter_to
from tests.mail.test_delivery import Carried

pytestmark = pytest.mark.django_db
HOSTILE = "<!doctype html><script>alert(1)</script><img src='https://spy.example/x'>"


def test_a_letter_is_shown_as_text_and_as_sent(cast, sign_in):
    letter = letter_to(cast.member)
    deliver(NOW)
    page = sign_in(cast.member).get(reverse("letter", args=["harbour", letter.pk])).text
    assert "In plain words." in page
    assert "Tue 3 Mar 2026, 09:00" in page
    assert f'title="The letter as sent" src="/t/harbour/letters/{letter.pk}/as-sent/"' in page


def test_what_a_letter_brings_can_neither_run_nor_call_anybody(cast, sign_in):
    letter = letter_to(cast.member, html=HOSTILE, text="<script>alert(2)</script>")
    client = sign_in(cast.member)
    page = client.get(reverse("letter", args=["harbour", letter.pk])).text
    assert "<script>alert" not in page
    sent = client.get(reverse("letter-as-sent", args=["harbour", letter.pk]))
    assert sent.text == HOSTILE
    policy = sent["Content-Security-Policy"]
    assert policy.startswith("sandbox allow-popups")
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    assert "allow-scripts" not in policy
    assert sent["X-Frame-Options"] == "SAMEORIGIN"


def test_a_letter_without_html_has_no_page_as_sent(cast, sign_in):
    letter = letter_to(cast.member, html="")
    client = sign_in(cast.member)
    assert "iframe" not in client.get(reverse("letter", args=["harbour", letter.pk])).text
    assert client.get(reverse("letter-as-sent", args=["harbour", letter.pk])).status_code == 404


def test_an_empty_outbox_says_when_the_first_letter_comes(cast, sign_in):
    page = sign_in(cast.member).get(reverse("letters", args=["harbour"])).text
    assert "from 08:00 on" in page


def test_letters_are_listed_newest_first_in_pages_with_these_queries(cast, sign_in):
    client = sign_in(cast.owner)
    url = reverse("letters", args=["harbour"])
    for n in range(52):
        letter_to(
            cast.member, key=str(n), subject=f"letter {n:02}", due_at=NOW + timedelta(minutes=n)
        )
    page = client.get(url).text
    assert page.index("letter 51") < page.index("letter 02")
    assert "letter 01" not in page
    assert "letter 01" in client.get(url, {"page": 2}).text
    assert client.get(url, {"page": "many"}).status_code == 200
    assert tables(lambda: client.get(url)) == [
        "django_session",
        "teams_user",
        "teams_member",
        "mail_letter",  # counted
        "mail_letter",
    ]


def shown(sign_in, member, name: str, *args) -> str:
    page = sign_in(member).get(reverse(name, args=["harbour", *args])).text
    return " ".join(page.split())


@pytest.mark.parametrize("server", [None, MailServer("mail.example", 587)])
def test_what_became_of_a_letter_is_told_in_words(cast, sign_in, settings, server):
    settings.MAIL_SERVER = server
    letter_to(cast.member, key="later", due_at=NOW + timedelta(hours=1))
    letter_to(cast.member, key="now")
    letter_to(cast.member, key="sent", subject="sent")
    rest = {"due_at": NOW - timedelta(days=1), "subject": "stopped"}
    letter_to(cast.member, key="stopped", stops=Stops.LETTERS, **rest)
    StoppedAddress.objects.create(
        team=cast.team, address=digest_of(cast.member.user.email), stopped_at=NOW
    )
    deliver(NOW, Carried(), most=1)
    Letter.objects.filter(key="sent").update(sent_at=NOW, next_attempt_at=None)
    page = shown(sign_in, cast.member, "letters")
    assert "waits until Tue 3 Mar 2026, 10:00" in page
    assert "waiting to be sent" in page
    assert ("sent" if server else "kept here") + " Tue 3 Mar 2026, 09:00" in page
    assert "held back Tue 3 Mar 2026, 09:00: mateus@harbour.example had asked for no more" in page
    assert ("nothing is sent to a mail server" in page) is (server is None)


def test_a_member_reads_why_a_letter_failed_and_only_an_owner_sends_it_again(cast, sign_in):
    letter = letter_to(cast.member, subject="bad")
    deliver(NOW, Carried(refuses=["bad"]))
    Letter.objects.update(next_attempt_at=None, gave_up_at=NOW)
    for who, button in ((cast.member, False), (cast.owner, True)):
        page = shown(sign_in, who, "letter", letter.pk)
        assert "could not be sent</span>, given up" in page
        assert "the mail server is away" in page
        assert ("Send it again" in page) is button

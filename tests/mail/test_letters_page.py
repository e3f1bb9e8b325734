"""Letters are readable in the app, whatever they hold."""

from datetime import timedelta

import pytest
from django.urls import reverse

from pipeline.mail.delivery import deliver
from tests.conftest import NOW
from tests.followups.queries import tables
from tests.mail.letters import letter_to

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

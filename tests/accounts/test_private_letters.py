"""Letters that let their reader in: nobody else reads them, and no text is left once sent."""

import pytest
from django.urls import reverse

from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter
from pipeline.watching.failures import count_given_up, failures, try_all_again
from tests.conftest import NOW
from tests.mail.letters import letter_to

pytestmark = pytest.mark.django_db


class Bag:
    """A carrier that keeps what it was given."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def carry(self, letter: Letter) -> None:
        self.texts.append(letter.text)

    def close(self) -> None:
        pass


def test_no_page_shows_one_to_anybody(cast, sign_in):
    letter = letter_to(cast.owner, private=True, by=cast.owner, calendar="METHOD:PUBLISH\r\n")
    for who in (cast.owner, cast.member):
        browser = sign_in(who)
        assert letter.subject not in browser.get(reverse("letters", args=["harbour"])).text
        for name in ("letter", "letter-as-sent", "letter-calendar", "letter-message"):
            assert browser.get(reverse(name, args=["harbour", letter.pk])).status_code == 404


def test_what_could_not_be_sent_of_them_is_told_to_no_owner(cast):
    for private in (True, False):
        letter = letter_to(cast.member, key=str(private), private=private)
        Letter.objects.filter(pk=letter.pk).update(gave_up_at=NOW, next_attempt_at=None)
    assert [letter.private for letter in failures(cast.team).letters_given_up.rows] == [False]
    assert count_given_up(cast.team) == (1, 0)
    assert try_all_again(team=cast.team, now=NOW) == (1, 0)


def test_once_sent_no_text_is_left_of_it_alone(cast):
    private = letter_to(cast.member, key="private", private=True)
    other = letter_to(cast.member, key="other")
    bag = Bag()
    assert deliver(NOW, bag) == 2
    assert bag.texts == ["In plain words."] * 2
    for letter in (private, other):
        letter.refresh_from_db()
    assert (private.text, private.html) == ("", "")
    assert private.sent_at == NOW
    assert other.text == "In plain words."

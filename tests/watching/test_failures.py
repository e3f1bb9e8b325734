"""What could not be sent or done stands in words before the owner, who has it tried again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from pipeline.jobs.models import Daily, Job, Round
from pipeline.jobs.planning import job_of
from pipeline.mail.carriers import RefusedForGood
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter
from pipeline.watching.failures import LISTED, in_words
from tests.conftest import NOW, TODAY
from tests.followups.queries import tables
from tests.mail.letters import letter_to
from tests.mail.test_delivery import Carried

pytestmark = pytest.mark.django_db

FAILED = reverse("failed", args=["harbour"])
START = reverse("start", args=["harbour"])


class Refusing(Carried):
    """A mail server that never takes these letters."""

    def carry(self, letter):
        raise RefusedForGood("The mail server said 550: no such mailbox")


def given_up_letter(cast, key="lost", **rest) -> Letter:
    letter = letter_to(cast.member, key=key, subject=f"Letter {key}", **rest)
    deliver(NOW, Refusing())
    letter.refresh_from_db()
    return letter


def job(team, key, **values) -> Job:
    made = job_of(team=team, kind="digest", key=key, due_at=NOW - timedelta(hours=2))
    for name, value in values.items():
        setattr(made, name, value)
    made.save()
    return made


def given_up_job(team, key="a") -> Job:
    return job(
        team,
        key,
        next_attempt_at=None,
        gave_up_at=NOW,
        attempts=8,
        last_error="OSError: no room",
    )


def test_where_nothing_failed_the_page_says_what_would_stand_there(cast, sign_in):
    page = sign_in(cast.owner).get(FAILED).text
    assert "Nothing failed." in page
    assert "<button>Try again" not in page


def test_it_tells_of_each_letter_why_it_could_not_be_sent(cast, sign_in):
    given_up_letter(cast)
    letter_to(cast.member, key="later", subject="Letter later")
    deliver(NOW, Carried(refuses=["Letter later"]))
    page = " ".join(sign_in(cast.owner).get(FAILED).text.split())
    assert "could not be sent</span>, given up Tue 3 Mar 2026, 09:00 after 1 attempt:" in page
    assert "The mail server said 550: no such mailbox" in page
    assert "not sent yet, tried 1 time, again from Tue 3 Mar 2026, 09:0" in page
    assert "the mail server is away" in page
    # what waits for the owner comes first
    assert page.index("Letter lost") < page.index("Letter later")


def test_it_tells_of_other_work_and_of_rounds(cast, sign_in):
    given_up_job(cast.team)
    job(cast.team, "b", next_attempt_at=NOW, attempts=3, last_error="KeyError: 'day'")
    Round.objects.create(
        team=cast.team,
        kind=Daily.MORNING,
        day=TODAY,
        team_version=1,
        due_at=NOW,
        next_attempt_at=NOW + timedelta(days=1),
        last_error="OSError: no room",
    )
    page = " ".join(sign_in(cast.owner).get(FAILED).text.split())
    assert "tried 8 times, given up Tue 3 Mar 2026, 09:00: OSError: no room" in page
    assert "tried 3 times, again from Tue 3 Mar 2026, 09:00 on: KeyError:" in page
    assert "Comes again Wed 4 Mar 2026, 09:00; failed last: OSError: no room" in page
    assert page.count("Try again</button>") == 1


def test_another_teams_failures_are_not_shown(cast, sign_in):
    given_up_job(cast.other_team)
    browser = sign_in(cast.owner)
    assert "Nothing failed." in browser.get(FAILED).text
    assert "Could not be sent or done" not in browser.get(START).text


def test_a_letter_is_sent_again_with_the_same_message_id(cast, sign_in):
    letter = given_up_letter(cast)
    browser, path = sign_in(cast.owner), reverse("letter", args=["harbour", letter.pk])
    assert "Send it again" in browser.get(path).text
    before = browser.get(reverse("letter-message", args=["harbour", letter.pk])).content
    page = browser.post(reverse("letter-again", args=["harbour", letter.pk]), follow=True).text
    assert "It is being sent again." in page
    assert "Send it again" not in page
    assert deliver(NOW, carrier := Carried()) == 1
    assert carrier.subjects == ["Letter lost"]
    assert browser.get(reverse("letter-message", args=["harbour", letter.pk])).content == before


def test_pressed_twice_or_on_a_letter_that_was_sent_it_changes_nothing(cast, sign_in):
    letter = letter_to(cast.member)
    deliver(NOW, Carried())
    path = reverse("letter-again", args=["harbour", letter.pk])
    page = sign_in(cast.owner).post(path, follow=True).text
    assert "This letter was not given up." in page
    assert deliver(NOW, Carried()) == 0


def test_a_letter_that_a_worker_holds_is_not_taken_from_it(cast, sign_in):
    letter = letter_to(cast.member)
    held = Letter.objects.claim_next(now=NOW)
    sign_in(cast.owner).post(reverse("letter-again", args=["harbour", letter.pk]))
    assert held.finish(sent_at=NOW)


def test_a_job_is_tried_again(cast, sign_in):
    row, other = given_up_job(cast.team), given_up_job(cast.team, "b")
    browser = sign_in(cast.owner)
    path = reverse("job-again", args=["harbour", row.pk])
    assert "Tried again now: digest." in browser.post(path, follow=True).text
    assert "Nothing was changed." in browser.post(path, follow=True).text
    assert [job.pk for job in Job.objects.waiting(NOW)] == [row.pk]
    assert [job.pk for job in Job.objects.given_up()] == [other.pk]


def test_all_that_was_given_up_is_tried_again_in_this_team_alone(cast, sign_in):
    given_up_letter(cast, "1"), given_up_letter(cast, "2")
    given_up_job(cast.team)
    given_up_job(cast.other_team, "theirs")
    browser, path = sign_in(cast.owner), reverse("failed-again", args=["harbour"])
    page = browser.post(path, follow=True).text
    assert "Tried again now: 2 letters and 1 piece of work." in page
    assert Letter.objects.waiting(NOW).count() == 2
    assert Job.objects.waiting(NOW).count() == 1
    assert "Nothing was changed." in browser.post(path, follow=True).text


def test_the_owners_first_page_says_that_something_was_given_up(cast, sign_in):
    given_up_letter(cast)
    assert "Could not be sent or done: 1 letter." in sign_in(cast.owner).get(START).text
    assert "Could not be sent or done" not in sign_in(cast.member).get(START).text


def test_what_will_be_tried_again_by_itself_warns_nobody(cast, sign_in):
    letter_to(cast.member, subject="bad")
    deliver(NOW, Carried(refuses=["bad"]))
    assert "Could not be sent or done" not in sign_in(cast.owner).get(START).text


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((0, 0), ""),
        ((1, 0), "1 letter"),
        ((0, 2), "2 pieces of work"),
        ((2, 1), "2 letters and 1 piece of work"),
    ],
)
def test_counts_are_told_in_words(counts, words):
    assert in_words(*counts) == words


def test_many_failures_are_listed_in_part_and_counted(cast, sign_in):
    Job.objects.bulk_create(
        job_of(team=cast.team, kind="digest", key=str(n), due_at=NOW) for n in range(LISTED + 3)
    )
    Job.objects.update(next_attempt_at=None, gave_up_at=NOW, last_error="OSError: no room")
    page = sign_in(cast.owner).get(FAILED).text
    assert page.count("Try again</button>") == LISTED
    assert "3 more were given up." in page


def test_the_page_asks_these_questions_however_much_failed(cast, sign_in):
    browser = sign_in(cast.owner)
    expected = [
        "django_session",
        "teams_user",
        "teams_member",
        *["mail_letter"] * 2,
        *["jobs_job"] * 2,
        "jobs_round",
    ]
    given_up_letter(cast)
    given_up_job(cast.team)
    assert tables(lambda: browser.get(FAILED)) == expected
    for n in range(3):
        given_up_letter(cast, str(n))
        given_up_job(cast.team, f"b{n}")
    assert tables(lambda: browser.get(FAILED)) == expected

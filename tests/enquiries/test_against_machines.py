"""The public page lets people in and holds machines up; nothing that was typed is lost."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import moment
from pipeline.enquiries.arrivals import (
    DAY,
    HOUR,
    MOST_OF_NETWORK,
    MOST_OF_TEAM,
    TooMany,
    count_in,
    network_hash,
)
from pipeline.enquiries.models import Arrival, EnquiryPage
from pipeline.enquiries.stamp import Stamp, read_stamp, signer
from pipeline.followups.sweep import sweep
from pipeline.history.models import Change
from pipeline.jobs.models import Job
from pipeline.leads.models import Lead
from pipeline.teams.models import Team
from tests.conftest import NOW
from tests.enquiries.pages import AGREEMENT, AT, TYPED, enquire, later, open_page, read
from tests.leads.pages import form_of

SECOND, MINUTE = timedelta(seconds=1), timedelta(minutes=1)


def kept(answer):
    held = form_of(answer)
    return {name: held[name][0] for name in TYPED} == TYPED


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("passed", "status"),
    [
        (timedelta(0), 422),
        (3 * SECOND - timedelta(microseconds=1), 422),
        (3 * SECOND, 302),
        (DAY, 302),
        (DAY + timedelta(microseconds=1), 422),
        (-MINUTE, 422),
    ],
)
def test_three_seconds_at_least_and_a_day_at_most(page, browser, passed, status):
    filled = read(browser)
    with moment.stopped(NOW + passed):
        answer = browser.post(AT, filled)
    assert answer.status_code == status
    assert Lead.objects.exists() == (status == 302)


@pytest.mark.django_db
def test_too_quick_is_said_and_the_next_press_counts(page, browser):
    answer = browser.post(AT, read(browser))
    assert "quicker than people type" in answer.text
    assert kept(answer)
    with later(seconds=4):
        assert browser.post(AT, form_of(answer)).status_code == 302


@pytest.mark.django_db
def test_too_old_is_said_and_the_next_press_counts(page, browser):
    filled = read(browser, agrees="on")
    with later(hours=25):
        answer = browser.post(AT, filled)
        assert "open for too long" in answer.text
        assert kept(answer)
        assert "agrees" in form_of(answer)
        with later(seconds=4):
            assert browser.post(AT, form_of(answer)).status_code == 302


@pytest.mark.django_db
def test_a_tick_under_other_words_is_not_carried_over(page, browser):
    filled = read(browser, agrees="on")
    EnquiryPage.objects.update(agreement="Other words.")
    with later(hours=25):
        answer = browser.post(AT, filled)
    assert "Other words." in answer.text
    assert AGREEMENT not in answer.text
    assert "agrees" not in form_of(answer)


@pytest.mark.django_db
@pytest.mark.parametrize("stamp", ["", "none", "a:b", "é:ß", ":", "\0", "x" * 10_000])
def test_a_stamp_of_somebody_elses_making_is_worth_nothing(page, browser, stamp):
    answer = enquire(browser, stamp=stamp)
    assert answer.status_code == 422
    assert kept(answer)
    with later(minutes=1):
        assert browser.post(AT, form_of(answer)).status_code == 302


@pytest.mark.django_db
def test_a_stamp_of_another_teams_page_is_worth_nothing(page, cast, browser):
    open_page(cast.other_team)
    theirs = form_of(browser.get("/enquire/quarry/"))["stamp"]
    assert enquire(browser, stamp=theirs).status_code == 422


@given(st.integers(1, 10**9), st.text(max_size=500))
def test_a_stamp_is_read_as_it_was_written(team, agreement):
    stamp = Stamp(team, NOW, agreement)
    assert read_stamp(str(stamp)) == stamp


@pytest.mark.parametrize("said", [1, [], [1, 2, 3], ["a"], {"a": 1}, [1, "no moment", ""]])
def test_a_stamp_that_says_something_else_is_none(said):
    assert read_stamp(signer.sign_object(said)) is None


@pytest.mark.django_db
def test_what_fills_in_the_field_that_nobody_sees_is_held_up_and_told(page, browser):
    answer = enquire(browser, website="https://pills.example")
    assert answer.status_code == 422
    assert "A field that is not shown was filled in" in answer.text
    assert not Lead.objects.exists()
    assert kept(answer)
    assert form_of(answer)["website"] == [""]
    with later(minutes=1):
        assert browser.post(AT, form_of(answer)).status_code == 302


@pytest.mark.django_db
def test_a_form_on_another_sites_page_is_held_up_and_told(page, browser):
    filled = read(browser)
    with later():
        answer = browser.post(AT, filled, headers={"Sec-Fetch-Site": "cross-site"})
        assert (answer.status_code, kept(answer)) == (422, True)
        assert "another site’s page" in answer.text
        own = browser.post(AT, form_of(answer), headers={"Sec-Fetch-Site": "same-origin"})
        assert own.status_code == 302


@pytest.mark.django_db
def test_the_sixth_within_an_hour_from_one_network_waits_and_keeps_its_words(page, browser):
    for n in range(MOST_OF_NETWORK):
        with later(minutes=n):
            assert enquire(browser).status_code == 302
    with later(minutes=30):
        answer = enquire(browser)
        assert answer.status_code == 429
        assert kept(answer)
        # the first came half a minute after nine
        assert "press the button again in 30 minutes." in answer.text
        assert answer.headers["Retry-After"] == "1800"
    with later(minutes=60, seconds=29):
        assert browser.post(AT, form_of(answer)).status_code == 429
    with later(minutes=60, seconds=30):
        assert browser.post(AT, form_of(answer)).status_code == 302
    assert Lead.objects.count() == MOST_OF_NETWORK + 1


@pytest.mark.django_db
def test_another_network_and_another_team_are_not_held_up(page, cast, browser):
    open_page(cast.other_team)
    for _ in range(MOST_OF_NETWORK):
        enquire(browser)
    assert enquire(browser).status_code == 429
    assert enquire(browser, "/enquire/quarry/").status_code == 302
    filled = read(browser)
    with later():
        assert browser.post(AT, filled, REMOTE_ADDR="198.51.100.7").status_code == 302


@pytest.mark.django_db
def test_what_was_wrong_and_what_came_twice_is_not_counted(page, browser):
    for _ in range(3 * MOST_OF_NETWORK):
        enquire(browser, email="none")
    filled = read(browser)
    with later():
        for _ in range(3 * MOST_OF_NETWORK):
            assert browser.post(AT, filled).status_code == 302
    assert Arrival.objects.count() == 1


@pytest.mark.django_db
def test_sixty_an_hour_from_wherever_are_enough_for_a_team(cast):
    for n in range(MOST_OF_TEAM):
        count_in(team=cast.team, network=str(n), now=NOW + n * SECOND)
    with pytest.raises(TooMany) as many:
        count_in(team=cast.team, network="new", now=NOW + 30 * MINUTE)
    assert many.value.wait == 30 * MINUTE
    count_in(team=cast.other_team, network="new", now=NOW + 30 * MINUTE)
    count_in(team=cast.team, network="new", now=NOW + HOUR)


@pytest.mark.django_db
def test_from_where_it_came_is_forgotten_after_a_day(page, browser):
    enquire(browser)
    hashed = Arrival.objects.get().network
    assert "127.0.0.1" not in hashed
    with later(hours=23):
        sweep(moment.now())
        assert Arrival.objects.exists()
    with later(hours=25):
        sweep(moment.now())
    assert not Arrival.objects.exists()
    assert not any(hashed in str(change.said) for change in Change.objects.all())
    assert not any(hashed in str(job.about) for job in Job.objects.all())


@pytest.mark.django_db
def test_behind_a_proxy_it_is_who_stands_before_it_that_counts(page, browser, settings):
    settings.TRUSTED_PROXIES = 1
    for n in range(MOST_OF_NETWORK + 1):
        filled = read(browser)
        with later():
            told = {"X-Forwarded-For": f"made up, 192.0.2.{n}"}
            assert browser.post(AT, filled, headers=told).status_code == 302
    assert Arrival.objects.values("network").distinct().count() == MOST_OF_NETWORK + 1


def test_teams_know_the_same_network_by_different_hashes():
    assert network_hash(Team(pk=1), "192.0.2.1") != network_hash(Team(pk=2), "192.0.2.1")

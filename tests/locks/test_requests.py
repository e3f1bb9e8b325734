"""A request is locked from its first question to its last, and leaves nothing behind."""

import pytest
from django.db import DataError, connection, connections, transaction
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.test import override_settings
from django.urls import path

from pipeline.leads.models import Lead, Source
from pipeline.locks.asking import as_team, as_user, locked
from pipeline.teams.models import Member
from pipeline.teams.tenancy import TeamRequest, door
from pipeline.urls import urlpatterns as real
from tests.factories import LeadFactory
from tests.followups.threads import at_once
from tests.locks.rows import on_postgresql

pytestmark = [pytest.mark.django_db, on_postgresql]
told: list[object] = []


@door()
def forgetful(request: TeamRequest) -> HttpResponse:
    """Ask for rows and forget whose."""
    names = [*Lead.objects.values_list("organisation", flat=True)]
    people = [*Member.objects.values_list("user__name", flat=True)]
    return HttpResponse("|".join(sorted(names + people)))


@door()
def trickling(request: TeamRequest) -> StreamingHttpResponse:
    return StreamingHttpResponse(name for (name,) in Lead.objects.values_list("organisation"))


def outside(request: HttpRequest) -> HttpResponse:
    return HttpResponse(f"{Lead.objects.count()} {Member.objects.count()}")


@door()
def failing(request: TeamRequest) -> HttpResponse:
    Source.objects.create(team=request.team, name="half")
    raise RuntimeError("no room")


def divide() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 / 0")


@door()
def broken(request: TeamRequest) -> HttpResponse:
    divide()
    return HttpResponse()


@door()
def committing(request: TeamRequest) -> HttpResponse:
    transaction.on_commit(lambda: told.append((connection.in_atomic_block, who())))
    told.append((connection.in_atomic_block, who()))
    return HttpResponse()


urlpatterns = [
    path("t/<slug:slug>/forgetful/", forgetful),
    path("t/<slug:slug>/trickling/", trickling),
    path("t/<slug:slug>/failing/", failing),
    path("t/<slug:slug>/broken/", broken),
    path("t/<slug:slug>/committing/", committing),
    path("outside/", outside),
    *real,
]
with_these = override_settings(ROOT_URLCONF=__name__)


def who() -> tuple[str, str, str]:
    """Return in which role and for which team and person the database would answer now."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_user, coalesce(current_setting('pipeline.team', true), ''),"
            " coalesce(current_setting('pipeline.user', true), '')"
        )
        return cursor.fetchone()


def as_signed_in() -> tuple[str, str, str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT session_user")
        return (cursor.fetchone()[0], "", "")


@with_these
def test_a_view_that_forgets_the_team_shows_nothing_of_others(cast, sign_in):
    LeadFactory(team=cast.team, organisation="Alder")
    LeadFactory(team=cast.other_team, organisation="Birch")
    Member.objects.create(team=cast.other_team, user=cast.member.user)
    page = sign_in(cast.member).get("/t/harbour/forgetful/").content.decode()
    assert page == "Alder|Mateus Coelho|Olive Brandt|Rea Lindqvist"
    assert sign_in(cast.stranger).get("/t/harbour/forgetful/").status_code == 404


@with_these
def test_what_trickles_out_is_asked_for_within_the_door(cast, sign_in):
    LeadFactory(team=cast.team, organisation="Alder")
    LeadFactory(team=cast.other_team, organisation="Birch")
    answer = sign_in(cast.member).get("/t/harbour/trickling/")
    assert b"".join(answer.streaming_content) == b"Alder"


@with_these
def test_a_view_beside_the_door_sees_no_rows(cast, sign_in):
    LeadFactory(team=cast.team)
    assert sign_in(cast.member).get("/outside/").content == b"0 0"


@with_these
@pytest.mark.parametrize("address", ["forgetful", "failing", "nowhere"])
def test_nothing_is_left_behind(cast, sign_in, address):
    browser = sign_in(cast.member)
    browser.raise_request_exception = False
    browser.get(f"/t/harbour/{address}/")
    assert who() == as_signed_in()


@pytest.mark.django_db(transaction=True)
@with_these
def test_a_request_is_one_transaction_and_what_waits_for_its_end_comes_after_it(cast, sign_in):
    told.clear()
    sign_in(cast.member).get("/t/harbour/committing/")
    role, _, _ = as_signed_in()
    assert role != "pipeline_app"
    inside, after = told
    assert inside == (True, ("pipeline_app", str(cast.team.pk), ""))
    assert after == (False, ("pipeline_app", "", ""))


@pytest.mark.django_db(transaction=True)
@with_these
def test_what_went_wrong_in_the_database_is_what_is_told(cast, sign_in):
    with pytest.raises(DataError, match="division"):
        sign_in(cast.member).get("/t/harbour/broken/")


@pytest.mark.django_db(transaction=True)
@with_these
def test_a_request_that_fails_is_taken_back_whole(cast, sign_in):
    browser = sign_in(cast.member)
    browser.raise_request_exception = False
    assert browser.get("/t/harbour/failing/").status_code == 500
    assert not Source.objects.exists()


@pytest.mark.django_db(transaction=True)
@with_these
@pytest.mark.parametrize("address", ["forgetful", "failing", "broken"])
def test_a_connection_goes_back_to_the_pool_as_it_came(cast, sign_in, address):
    seen = []

    def ask():
        browser = sign_in(cast.member)
        browser.raise_request_exception = False
        browser.get(f"/t/harbour/{address}/")
        # as the server does at the end of each request
        connections.close_all()
        seen.append((who(), as_signed_in()))

    assert at_once(*[ask] * 3) == []
    assert len(seen) == 3
    assert all(left == came for left, came in seen)


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_is_made_anew_takes_its_role_anew(cast):
    def work():
        with locked():
            assert who()[0] == "pipeline_app"
            connection.close()
            assert who()[0] == "pipeline_app"
            connection.close()
        assert who() == as_signed_in()

    assert at_once(work) == []


def test_who_asks_is_known_again_after_a_block_within_a_block(cast):
    with locked(), as_team(1):
        with as_user(2):
            assert who()[1:] == ("", "2")
            with locked():
                assert who() == ("pipeline_app", "", "2")
        assert who() == ("pipeline_app", "1", "")
        with pytest.raises(RuntimeError), as_team(3):
            raise RuntimeError
        assert who()[1:] == ("1", "")
        # what goes wrong in the database is rolled back with the team it was for
        with pytest.raises(DataError), transaction.atomic(), as_team(3):
            divide()
        assert who()[1:] == ("1", "")
    assert who() == as_signed_in()

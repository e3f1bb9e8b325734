"""Roles and leaving: a team always has an owner, and nothing of what people did is lost."""

import threading

import pytest
from django.db import connection
from django.urls import reverse

from pipeline.followups.models import FollowUp
from pipeline.leads.models import Lead
from pipeline.teams import membership
from pipeline.teams.models import Member, Role
from pipeline.teams.refused import Refused
from tests.conftest import TODAY
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory


def test_an_owner_changes_a_role_and_twice_is_once(cast, sign_in):
    browser = sign_in(cast.owner)
    url = reverse("member-role", args=["harbour", cast.reader.pk])
    first = browser.post(url, {"role": "member"}, follow=True).content.decode()
    second = browser.post(url, {"role": "member"}, follow=True).content.decode()
    cast.reader.refresh_from_db()
    assert cast.reader.role == Role.MEMBER
    assert "Rea Lindqvist is now member." in first
    assert "Rea Lindqvist was member already." in second


def test_an_unknown_role_is_refused_in_words(cast, sign_in):
    url = reverse("member-role", args=["harbour", cast.reader.pk])
    for typed in ({"role": "king"}, {}):
        page = sign_in(cast.owner).post(url, typed, follow=True).content.decode()
        assert "Choose one of the roles" in page
    cast.reader.refresh_from_db()
    assert cast.reader.role == Role.READER


@pytest.mark.parametrize("step", ["demote", "remove"])
def test_the_last_owner_stays(cast, sign_in, step):
    browser = sign_in(cast.owner)
    if step == "demote":
        url = reverse("member-role", args=["harbour", cast.owner.pk])
        page = browser.post(url, {"role": "member"}, follow=True)
    else:
        url = reverse("member-remove", args=["harbour", cast.owner.pk])
        page = browser.post(url, follow=True)
    assert "Olive Brandt is the last owner." in page.content.decode()
    cast.owner.refresh_from_db()
    assert (cast.owner.role, cast.owner.left_on) == (Role.OWNER, None)


def test_an_owner_who_left_is_no_owner_any_more(cast):
    membership.change_role(member=cast.member, role=Role.OWNER)
    membership.remove(member=cast.owner, today=TODAY)
    with pytest.raises(Refused, match="last owner"):
        membership.change_role(member=cast.member, role=Role.READER)


def test_who_leaves_owns_nothing_and_what_they_did_stays(cast):
    lead = LeadFactory(team=cast.team, owner=cast.member)
    follow_up = FollowUpFactory(lead=lead, owner=cast.member)
    decision = DecisionFactory(lead=lead, recorded_by=cast.member)
    before = lead.version

    assert membership.remove(member=cast.member, today=TODAY)
    assert not membership.remove(member=cast.member, today=TODAY)

    lead.refresh_from_db()
    decision.refresh_from_db()
    assert lead.owner is None
    # A form opened before is told.
    assert lead.version == before + 1
    assert FollowUp.objects.get(pk=follow_up.pk).owner is None
    assert decision.recorded_by == cast.member


def test_who_becomes_a_reader_owns_nothing(cast):
    lead = LeadFactory(team=cast.team, owner=cast.member)
    membership.change_role(member=cast.member, role=Role.READER)
    assert Lead.objects.get(pk=lead.pk).owner is None


def test_who_left_may_come_back_as_who_they_were(cast):
    membership.remove(member=cast.member, today=TODAY)
    back = membership.join(team=cast.team, email="MATEUS@harbour.example", role=Role.READER)
    assert back == cast.member
    assert (back.left_on, back.role) == (None, Role.READER)


def test_two_owners_who_demote_each_other_leave_one(transactional_db, cast):
    membership.change_role(member=cast.member, role=Role.OWNER)
    together = threading.Barrier(2)
    refused = []

    def demote(whom: Member) -> None:
        try:
            together.wait()
            membership.change_role(member=whom, role=Role.READER)
        except Refused as said:
            refused.append(str(said))
        finally:
            connection.close()

    threads = [threading.Thread(target=demote, args=[m]) for m in (cast.owner, cast.member)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Member.objects.filter(team=cast.team, role=Role.OWNER).count() == 1
    assert len(refused) == 1

"""The demo: two invented agencies with every kind of lead, and gone without a trace."""

import pytest
from django.core.management import CommandError, call_command

from pipeline.exchange.demo import names, scenario
from pipeline.exchange.welcome import DEMO_ADDRESS, DEMO_PASSWORD
from pipeline.followups.models import FollowUp
from pipeline.jobs.models import Job
from pipeline.leads.models import Contact, Lead, Standing
from pipeline.teams.models import Team, User
from sessions.models import DiscoverySession, Note, State, Statement
from sessions.takeaways.harvest import harvest
from tests.conftest import NOW, TODAY


@pytest.mark.django_db
def test_the_demo_shows_every_standing_and_leaves_nothing_behind(client):
    call_command("demo", verbosity=0)

    leads = Lead.objects.all()
    assert Team.objects.count() == 2
    assert leads.count() == 120
    assert set(leads.values_list("standing", flat=True)) == set(Standing.values)
    days = leads.values_list("enquired_on", flat=True)
    assert (max(days) - min(days)).days > 2.5 * 365
    assert max(days) <= TODAY
    assert DiscoverySession.objects.filter(state=State.HELD, day__gt=TODAY).count() == 0
    formats = DiscoverySession.objects.filter(state=State.HELD).values("format__name")
    assert formats.distinct().count() >= 3
    assert FollowUp.objects.due_by(TODAY).exists()
    ran = DiscoverySession.objects.filter(state=State.HELD, step_runs__isnull=False).distinct()
    assert ran.count() >= 3
    for session in ran:
        assert session.notes.kept().exists() or session.statements.kept().exists()
        assert harvest(session).lacking == []
    assert Note.objects.opportunities().exists()
    assert Statement.objects.filter(votes__gt=0).exists()
    for address in [*Contact.objects.values_list("email"), *User.objects.values_list("email")]:
        assert address[0].endswith(".example")
    assert not Job.objects.filter(due_at__lte=NOW).exists()
    call_command("standings", "--check")
    assert client.login(username=DEMO_ADDRESS, password=DEMO_PASSWORD)
    with pytest.raises(CommandError, match="there already"):
        call_command("demo", verbosity=0)

    assert scenario.remove() == 2
    assert not Team.objects.exists()
    assert not User.objects.exists()
    assert not Lead.objects.exists()


def test_invented_addresses_are_plain_ascii_under_a_reserved_name():
    # RFC 2606, section 2: .example is reserved and never resolves.
    organisations = [f"{place} {kind}" for place in names.PLACES for kind in names.KINDS]
    hosts = {names.slug(text) for text in organisations}
    people = {names.slug(text) for text in [*names.FIRST, *names.LAST]}

    assert len(hosts) == len(organisations)
    for part in hosts | people:
        assert part.isascii()
        assert part.replace("-", "").isalnum()

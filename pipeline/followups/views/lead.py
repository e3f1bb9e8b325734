"""A lead's page: where it stands, what is due next, and its whole history."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.enquiries.telling import may_be
from pipeline.followups.due import Item, of_deliverable, of_follow_up, of_session
from pipeline.followups.history import Rows, history, index_session
from pipeline.followups.models import FollowUpState
from pipeline.leads.models import Contact, Lead, Merge
from pipeline.mail.models import StoppedAddress
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.models import State

# So many of the things due next stand open on the page; the others are folded.
NEXT = 5


@door()
@require_safe
def lead(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a lead; one that was merged away leads to the lead that was kept."""
    found = fetch(Lead.objects.with_names(), request.team, pk=pk)
    if found.merged_into_id:
        return redirect("lead", request.team.slug, found.kept().pk)
    found.team = request.team
    rows = rows_of(found)
    upcoming = upcoming_of(rows)
    return render(
        request,
        "followups/lead.html",
        {
            "here": "leads",
            "lead": found,
            "today": request.team.today(moment.now()),
            "people": people_of(found),
            "drafts": [row for row in rows.letters if row.sent_at is None],
            "may_be": may_be(found, request.team),
            "index": index_session(rows.sessions),
            "next": upcoming[:NEXT],
            "after_next": upcoming[NEXT:],
            "events": history(found, request.team, rows),
            "merges": list(Merge.objects.for_team(request.team).into(found)),
        },
    )


def rows_of(lead: Lead) -> Rows:
    """Return the lead's rows with the names that its page shows: eleven queries."""
    return Rows(
        log=list(lead.log.select_related("recorded_by__user")),
        sessions=list(lead.sessions.with_names()),
        deliverables=list(lead.deliverables.with_names()),
        proposals=list(lead.proposals.all()),
        decisions=list(lead.decisions.all()),
        fundings=list(lead.fundings.all()),
        follow_ups=list(lead.follow_ups.with_all()),
        letters=list(lead.letters.with_names()),
        consents=list(lead.consents.select_related("recorded_by__user")),
    )


def people_of(lead: Lead) -> list[tuple[Contact, str]]:
    """Return the lead's people, and in words who of them asked for no more letters."""
    people = list(lead.contacts.all())
    stopped = StoppedAddress.objects.of(lead.team, [one.email for one in people])
    said = {email: asked_for_no_more(email, lead.team, at) for email, at in stopped.items()}
    return [(one, said.get(one.email, "")) for one in people]


def upcoming_of(rows: Rows) -> list[Item]:
    """Return what is to be done for the lead, that due first at the top."""
    items = [
        *(of_follow_up(row) for row in rows.follow_ups if row.state == FollowUpState.OPEN),
        *(of_deliverable(row) for row in rows.deliverables if row.owed),
        *(of_session(row) for row in rows.sessions if row.state == State.BOOKED),
    ]
    return sorted(items, key=lambda item: (item.day, item.kind, item.row.pk))

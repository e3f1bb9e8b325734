"""What a sheet can't hold, so that nobody takes an export for a backup."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet

from pipeline.followups.models import FollowUp
from pipeline.leads.models import Contact, Decision, Funding, Lead, LogEntry, Proposal
from pipeline.teams.models import Team
from sessions.models import CrewPlace, Deliverable, DiscoverySession, Step


def left_out(team: Team) -> list[str]:
    """Return, in words and with their number, what of the team's rows an export leaves out."""
    found: list[str] = []

    def count(rows: QuerySet, **kinds: Q) -> None:  # type: ignore[type-arg]
        named = {words: Count("pk", filter=of, distinct=True) for words, of in kinds.items()}
        counted = rows.filter(team=team).aggregate(**named)
        found.extend(
            f"{words.replace('_', ' ')}: {counted[words]}" for words in kinds if counted[words]
        )

    def filled(field: str) -> Q:
        return ~Q(**{field: ""})

    def known(field: str) -> Q:
        return Q(**{f"{field}__isnull": False})

    every = known("pk")
    present = Lead.objects.present()
    count(
        present,
        owners_of_leads=known("owner"),
        budgets_at_entry=known("budget_at_entry"),
        notes_on_leads=filled("note"),
    )
    count(Lead.objects.all(), leads_merged_into_others=known("merged_into"))
    count(
        Contact.objects.all(), roles_and_time_zones_of_people=filled("role") | filled("timezone")
    )
    count(LogEntry.objects.all(), conversations=every)
    count(Proposal.objects.all(), proposals=every)
    count(
        Decision.objects.all(),
        reasons_of_decisions=filled("reason"),
        sources_of_expected_money=filled("funding_from"),
    )
    count(Funding.objects.all(), notes_on_funding=filled("note"))
    count(
        DiscoverySession.objects.all(),
        hours_and_places_of_sessions=known("starts_at") | filled("place"),
        sessions_whose_people_are_named=known("attendees"),
        sessions_whose_effort_is_split=known("effort_before")
        | known("effort_during")
        | known("effort_after"),
        reasons_of_missed_or_cancelled_sessions=filled("reason"),
    )
    count(CrewPlace.objects.all(), places_in_crews=every)
    count(
        Deliverable.objects.all(),
        waived_deliverables=known("waived_on"),
        owners_of_deliverables=known("owner"),
        due_days_of_deliverables=every,
        files_and_links=filled("file") | filled("link"),
        to_whom_deliverables_were_sent=filled("sent_to"),
    )
    count(Step.objects.all(), steps_of_formats=every)
    count(FollowUp.objects.all(), follow_ups=every)
    return found

"""What a sheet can't hold, so that nobody takes an export for a backup."""

from __future__ import annotations

from django.db.models import CharField, Count, Q, QuerySet, Value

from pipeline.enquiries.models import Enquiry
from pipeline.followups.models import Consent, FollowUp, LeadLetter, PlanEdition, PlanStep
from pipeline.leads.models import Contact, Decision, Funding, Lead, LogEntry, Proposal
from pipeline.mail.models import Letter, StoppedAddress
from pipeline.rights.models import DataAct
from pipeline.teams.models import Absence, Team, TeamOwned
from sessions.models import (
    AfterHour,
    CalendarEntry,
    CrewPlace,
    Deliverable,
    DiscoverySession,
    LaneChart,
    Note,
    Offer,
    Promise,
    SharedTakeaway,
    Statement,
    Step,
    StepRun,
    Theme,
    WriteUp,
)

# Of these a sheet holds nothing at all.
NOTHING_OF: dict[str, type[TeamOwned]] = {
    "conversations": LogEntry,
    "proposals": Proposal,
    "places in crews": CrewPlace,
    "themes": Theme,
    "notes of sessions": Note,
    "statements with their votes": Statement,
    "real minutes of steps": StepRun,
    "notes after the hour": AfterHour,
    "write-ups": WriteUp,
    "lane charts": LaneChart,
    "takeaways sent by link": SharedTakeaway,
    "invitations to sessions": CalendarEntry,
    "offers of times": Offer,
    "steps of formats": Step,
    "promises of formats": Promise,
    "follow-ups": FollowUp,
    "editions of the follow-up plan": PlanEdition,
    "steps of the follow-up plan": PlanStep,
    "letters to leads": LeadLetter,
    "addresses to which no letters go": StoppedAddress,
    "agreements to letters": Consent,
    "enquiries by the page": Enquiry,
    "notes on handing out and erasing data": DataAct,
    "letters": Letter,
    "absences": Absence,
}


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
    count(
        Deliverable.objects.all(),
        waived_deliverables=known("waived_on"),
        owners_of_deliverables=known("owner"),
        due_days_of_deliverables=every,
        files_and_links=filled("file") | filled("link"),
        to_whom_deliverables_were_sent=filled("sent_to"),
    )
    return found + _nothing_of(team)


def _nothing_of(team: Team) -> list[str]:
    first, *others = (
        model._default_manager.filter(team=team)
        .order_by()
        .values(words=Value(words, CharField()))
        .annotate(number=Count("pk"))
        for words, model in NOTHING_OF.items()
    )
    numbers = dict(first.union(*others, all=True).values_list("words", "number"))
    return [f"{words}: {numbers[words]}" for words in NOTHING_OF if numbers.get(words)]

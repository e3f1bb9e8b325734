"""A lead's whole history in order of time: a pure function of its rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from pipeline.leads.models import (
    CLOSED_BY,
    Decision,
    DecisionKind,
    Funding,
    Lead,
    LogEntry,
    Proposal,
)
from pipeline.teams.models import Member, Team
from pipeline.teams.money import show
from pipeline.teams.templatetags.show import day as day_words
from pipeline.teams.templatetags.show import minutes, month
from sessions.models import Deliverable, DiscoverySession, State

from .lead_letters import delivery
from .models import Consent, FollowUp, FollowUpState, LeadLetter


@dataclass(frozen=True)
class Event:
    """One thing that happened, or is booked, on a day."""

    day: date
    what: str
    # Sentences that say more: a reason, an amount, who.
    details: tuple[str, ...] = ()
    # Name of the address of its page, and the key that this takes.
    page: str = ""
    pk: int = 0
    # Of a return: the session that earned it.
    earned_by: DiscoverySession | None = None
    is_return: bool = False


@dataclass
class Rows:
    """A lead's rows, each kind in order of time."""

    log: Sequence[LogEntry] = ()
    sessions: Sequence[DiscoverySession] = ()
    deliverables: Sequence[Deliverable] = ()
    proposals: Sequence[Proposal] = ()
    decisions: Sequence[Decision] = ()
    fundings: Sequence[Funding] = ()
    follow_ups: Sequence[FollowUp] = field(default_factory=list)
    letters: Sequence[LeadLetter] = ()
    consents: Sequence[Consent] = ()


def history(lead: Lead, team: Team, rows: Rows) -> list[Event]:
    """Return everything that happened with ``lead``, the oldest first.

    Facts of one day come in the order in which a lead meets them.
    """
    events = [
        *_entry(lead, team),
        *(_conversation(row) for row in rows.log),
        *(_session(row) for row in rows.sessions),
        *(event for row in rows.deliverables for event in _deliverable(row, team)),
        *(_proposal(row) for row in rows.proposals),
        *_decisions(rows),
        *(_funding(row) for row in rows.fundings),
        *_follow_ups(rows.follow_ups),
        *(_letter(row, team) for row in rows.letters if row.sent_at is not None),
        *(_consent(row, team) for row in rows.consents),
    ]
    return sorted(events, key=lambda event: event.day)


def index_session(sessions: Sequence[DiscoverySession]) -> DiscoverySession | None:
    """Return the first session that was held."""
    held = [row for row in sessions if row.state == State.HELD]
    return min(held, key=lambda row: (row.day, row.pk), default=None)


def the_return(decisions: Sequence[Decision], index_day: date | None) -> Decision | None:
    """Return the engagement that followed ``no budget yet``, if the lead came back.

    After a session only what was decided on its day or later counts; a lead that engaged or
    closed before it said ``no budget yet``, or closed before it engaged, did not return. On one
    day ``engaged`` comes before a close.
    """
    since = index_day or date.min
    started = False
    order = {DecisionKind.NO_BUDGET: 0, DecisionKind.ENGAGED: 1}
    for row in sorted(decisions, key=lambda row: (row.day, order.get(DecisionKind(row.kind), 2))):
        if row.kind == DecisionKind.NO_BUDGET and row.day >= since:
            started = True
        elif row.kind == DecisionKind.ENGAGED:
            return row if started else None
        elif row.kind in CLOSED_BY:
            return None
    return None


def _told(*details: str) -> tuple[str, ...]:
    return tuple(detail for detail in details if detail)


def _line(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _by(member: Member | None) -> str:
    return f"noted by {member}" if member else ""


def _entry(lead: Lead, team: Team) -> Iterator[Event]:
    source = f"through {lead.source}" if lead.source else ""
    if lead.enquired_on:
        yield Event(lead.enquired_on, "They enquired", _told(source), "lead-edit", lead.pk)
    else:
        logged = team.today(lead.created_at)
        told = _told(source, "the day of the enquiry is not known")
        yield Event(logged, "The lead was logged", told, "lead-edit", lead.pk)


def _conversation(row: LogEntry) -> Event:
    who = f" with {row.who}" if row.who else ""
    what = f"{row.get_channel_display()}{who}"
    told = _told(row.gist, _by(row.recorded_by))
    return Event(row.day, what[:1].upper() + what[1:], told, "log-edit", row.pk)


def _session(row: DiscoverySession) -> Event:
    what = f"Session {row.state}"
    short = (
        str(row.format or "format not known"),
        f"{row.attendee_count} came" if row.attendee_count is not None else "",
        f"effort {minutes(row.effort)}" if row.effort is not None else "",
    )
    return Event(row.day, what, _told(_line(*short), row.reason), "session", row.pk)


def _deliverable(row: Deliverable, team: Team) -> Iterator[Event]:
    promised = row.session.day if row.session else team.today(row.recorded_at)
    # An import brings what was sent long before it was recorded.
    first = min(filter(None, (promised, row.sent_on, row.waived_on)))
    due = f"due {day_words(row.due_on)}"
    yield Event(first, f"Promised: {row.title}", _told(due), "deliverable", row.pk)
    if row.sent_on:
        to = f"to {row.sent_to}" if row.sent_to else ""
        late = "after it was due" if row.sent_on > row.due_on else ""
        told = _told(_line(to, late))
        yield Event(row.sent_on, f"Sent: {row.title}", told, "deliverable", row.pk)
    if row.waived_on:
        told = _told(row.waived_reason)
        yield Event(row.waived_on, f"Waived: {row.title}", told, "deliverable", row.pk)


def _proposal(row: Proposal) -> Event:
    told = _told(show(row.fee, row.currency), row.note)
    return Event(row.sent_on, "Proposal sent", told, "proposal-edit", row.pk)


def _decisions(rows: Rows) -> Iterator[Event]:
    index = index_session(rows.sessions)
    returned = the_return(rows.decisions, index.day if index else None)
    for row in rows.decisions:
        expected = ""
        if row.funding_expected_on:
            told = month if row.expected_by_month else day_words
            expected = f"money expected {told(row.funding_expected_on)}"
        source = f"from {row.funding_from}" if row.funding_from else ""
        details = _told(_line(show(row.fee, row.currency), expected, source), row.reason)
        yield Event(
            row.day,
            f"Decision: {row.get_kind_display()}",
            details,
            "decision-edit",
            row.pk,
            earned_by=index if row is returned else None,
            is_return=row is returned,
        )


def _funding(row: Funding) -> Event:
    return Event(row.arrived_on, "Funding arrived", _told(row.note), "funding-edit", row.pk)


def _letter(row: LeadLetter, team: Team) -> Event:
    assert row.sent_at is not None
    by = f"by {row.written_by}" if row.written_by else ""
    arrived = row.letter and row.letter.sent_at
    told = _told(_line(by, "" if arrived else delivery(row.letter, team)))
    to = row.contact or row.to
    return Event(
        team.today(row.sent_at), f"Letter to {to}: {row.subject}", told, "lead-letter", row.pk
    )


def _consent(row: Consent, team: Team) -> Event:
    what, stopped, back = f"{row.name} agreed to letters, {row.how}", "", ""
    if row.stopped_at is not None:
        what = f"Letters may go to {row.name} again"
        stopped = f"They had asked for none on {day_words(team.today(row.stopped_at))}."
    if row.withdrawn_on is not None:
        back = f"They took it back on {day_words(row.withdrawn_on)}."
    return Event(row.day, what, _told(row.said, stopped, back, _by(row.recorded_by)))


def _follow_ups(rows: Sequence[FollowUp]) -> Iterator[Event]:
    """Those that one fact ended are one event: a long plan must not hide what happened."""
    closed = [row for row in rows if row.closed_on is not None]
    by_end = defaultdict(list)
    for row in closed:
        alone = row.pk if row.state != FollowUpState.ENDED else 0
        by_end[(row.closed_on, row.reason, row.action, alone)].append(row)
    for alike in by_end.values():
        yield _follow_up(alike[0], len(alike))


def _follow_up(row: FollowUp, count: int) -> Event:
    assert row.closed_on is not None
    words = {
        FollowUpState.DONE: "Follow-up done",
        FollowUpState.DROPPED: "Follow-up dropped",
        FollowUpState.ENDED: "Follow-up ended by itself",
    }
    told = words[FollowUpState(row.state)]
    if count > 1:
        told = f"{count} follow-ups ended by themselves"
    by = f"by {row.closed_by}" if row.closed_by else ""
    return Event(
        row.closed_on, f"{told}: {row.action}", _told(by, row.reason), "follow-up", row.pk
    )

"""A first draft of a letter to somebody at a lead, from the plan, with its words filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format

from pipeline.leads.models import Contact, DecisionKind, Lead
from pipeline.teams.models import Member
from pipeline.teams.templatetags.show import month
from sessions.models import State

from .letter_words import BLANK, wrong_blanks
from .models import FollowUp, PlanStep, Trigger
from .planning import step_of

# Why a word may have stayed open; what is not named here is always known.
NOT_KNOWN = {
    "first name": "their name is not noted",
    "session day": "no session was held",
    "expected money": "it is not noted when they expect money",
}


@dataclass(frozen=True)
class Draft:
    """Subject and text, to be read over."""

    subject: str = ""
    text: str = ""


def draft_for(
    *, lead: Lead, contact: Contact, member: Member, follow_up: FollowUp | None
) -> Draft:
    """Return what the team's plan, as it is now, would write at this follow-up; else nothing."""
    step = _step(follow_up) if follow_up else None
    if step is None:
        return Draft()
    values = values_for(lead=lead, contact=contact, member=member, follow_up=follow_up)
    return Draft(fill(step.letter_subject, values), fill(step.letter_text, values))


def values_for(
    *, lead: Lead, contact: Contact | None, member: Member, follow_up: FollowUp | None
) -> dict[str, str]:
    """Return what is known to stand in place of the words in braces."""
    values = {"organisation": lead.organisation, "my name": str(member)}
    if contact and contact.name:
        values["first name"] = contact.name.split()[0]
    if day := _session_day(lead, follow_up):
        values["session day"] = _in_a_letter(day)
    waits = lead.decisions.filter(kind=DecisionKind.NO_BUDGET).exclude(funding_expected_on=None)
    wait = waits.order_by("day", "pk").last()
    if wait and wait.funding_expected_on:
        told = month if wait.expected_by_month else _in_a_letter
        values["expected money"] = told(wait.funding_expected_on)
    return values


def fill(text: str, values: Mapping[str, str]) -> str:
    """Return ``text`` with what is known in place of words in braces; the others stay."""
    return BLANK.sub(lambda found: values.get(found[1], found[0]), text)


def to_mend(text: str) -> list[str]:
    """Return in words what still stands in braces, and why."""
    known = [name for name in dict.fromkeys(BLANK.findall(text)) if name in NOT_KNOWN]
    found = [f"{{{name}}} stands open: {NOT_KNOWN[name]}. Write it yourself." for name in known]
    wrong = wrong_blanks(text)
    return [*found, wrong] if wrong else found


def _step(follow_up: FollowUp) -> PlanStep | None:
    told = step_of(follow_up.key)
    if told is None:
        return None
    steps = PlanStep.objects.current(follow_up.team)
    step: PlanStep | None = steps.filter(trigger=told[0], position=told[1]).first()
    return step


def _session_day(lead: Lead, follow_up: FollowUp | None) -> date | None:
    """Return the day of the session that was missed, where that is followed; else of the last."""
    trigger, _, rest = follow_up.key.partition("|") if follow_up else ("", "", "")
    if trigger == Trigger.SESSION_MISSED:
        return date.fromisoformat(rest[:10])
    last = lead.sessions.filter(state=State.HELD).order_by("day", "pk").last()
    return last.day if last else None


def _in_a_letter(day: date) -> str:
    return date_format(day, "j F Y")

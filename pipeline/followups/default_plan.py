"""The plan that a new team starts with: common practice, no source. Letters are drafts to edit."""

from __future__ import annotations

from typing import Any

from .models import Trigger, Unit

DEFAULT: list[dict[str, Any]] = [
    {
        "trigger": Trigger.DELIVERABLE_SENT,
        "action": "Ask what they made of it",
        "count": 2,
        "unit": Unit.WORKING_DAYS,
        "letter_subject": "What did you make of what we sent?",
        "letter_text": """\
Dear {first name},

We sent you what we wrote up after our session of {session day}. Did you find time to read it?

If something is missing or reads wrongly, tell me and I will mend it. And if you have shown it to \
others at {organisation}, I would like to hear what they said.

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.SESSION_MISSED,
        "action": "Offer another day for the session",
        "count": 1,
        "unit": Unit.WORKING_DAYS,
        "letter_subject": "Another day for our session?",
        "letter_text": """\
Dear {first name},

We did not get to meet for our session. That happens; the offer stands, and it still costs nothing.

Which days in the next two weeks would suit you and your colleagues at {organisation}?

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.PROPOSAL_SENT,
        "action": "Ask where the proposal stands",
        "count": 10,
        "unit": Unit.WORKING_DAYS,
        "letter_subject": "Our proposal to {organisation}",
        "letter_text": """\
Dear {first name},

Some days ago we sent you our proposal. Is there anything in it that I can explain or change?

If it has to wait, a word about when to ask again helps us to plan.

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.NO_BUDGET,
        "action": "Ask how they are and whether money is in sight",
        "count": 3,
        "unit": Unit.MONTHS,
        "times": 8,
        "letter_subject": "How are things at {organisation}?",
        "letter_text": """\
Dear {first name},

It has been a while since our session of {session day}. How have you got on with what came out of \
it?

Should money for going on be in sight by now, I would be glad to think along about what is worth \
doing first. If not, that is fine too.

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.NO_BUDGET,
        "action": "Ask whether the money is coming as expected",
        "count": 2,
        "unit": Unit.WEEKS_BEFORE_FUNDING,
        "letter_subject": "Is the money coming as you expected?",
        "letter_text": """\
Dear {first name},

When we last spoke you expected the money in {expected money}. Does that still hold?

If it does, we could find an hour to look at what {organisation} needs first. If it has moved, \
tell me until when, and I will ask again then.

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.QUIET,
        "action": "Write once more after the silence",
        "count": 6,
        "unit": Unit.MONTHS,
        "letter_subject": "One more word after our session",
        "letter_text": """\
Dear {first name},

We have not heard from each other for some time. Is what we worked on in our session of \
{session day} still of use to {organisation}?

If another time suits you better, or somebody else has taken it on, a short line is enough. I \
shall not write again otherwise.

Kind regards
{my name}""",
    },
    {
        "trigger": Trigger.FUNDING_ARRIVED,
        "action": "Call: their money has arrived",
        "count": 1,
        "unit": Unit.WORKING_DAYS,
    },
]

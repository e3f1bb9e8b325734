"""What an invented crew wrote up after its hour, and how it drew the way things go."""

from __future__ import annotations

from datetime import datetime
from random import Random

from pipeline.teams.models import Member
from sessions.models import Budget, DiscoverySession, State
from sessions.takeaways.chart import StepDraft
from sessions.takeaways.writing import draw, note_after_hour, write_up

WRITTEN = (
    (
        "How might everybody who asks know on the same day where their request stands?",
        "By the summer nobody calls a second time to ask how far it is.",
        "What if the request told by itself where it lies?",
        "Send us last month's requests, without names\nTalk again in two weeks\n"
        "Ask the board who may sign what",
        (
            StepDraft("Resident", "Hands in a request at the counter"),
            StepDraft("Counter", "Enters it in the day's list", "the filled form"),
            StepDraft("Office", "Copies it into a list of its own", "the form", True, "Two lists"),
            StepDraft("Office", "Waits until four requests lie there"),
            StepDraft("Board", "Signs at its next meeting", "a folder", True, "Six times a year"),
            StepDraft("Office", "Writes the letter", "the signed form"),
            StepDraft("Resident", "Calls to ask what the letter means", "the letter"),
        ),
    ),
    (
        "How might what one person knows be there for whoever comes next?",
        "In spring the work goes on as before, with somebody else at the desk.",
        "What if newcomers wrote down what they had to ask?",
        "Let us watch for a morning\nName who takes over\nTalk again before the holidays",
        (
            StepDraft("Newcomer", "Gets a case they have not seen"),
            StepDraft("Colleague", "Does not know either", "the question"),
            StepDraft("Old hand", "Knows it by heart", "the question", True, "Only one knows"),
            StepDraft("Newcomer", "Does as told, and notes nothing", "an answer by word of mouth"),
            StepDraft("Customer", "Gets an answer after three days", "the answer"),
        ),
    ),
)
DECIDE = ("The director, with the board in autumn", "The head of service alone", "The council")
ASKED = ("A price for a first workshop", "How long a project of this kind takes", "")


def write_up_session(
    session: DiscoverySession, member: Member, now: datetime, random: Random
) -> None:
    """Write up a held session as if somebody had."""
    challenge, goal, opportunities, next_steps, steps = random.choice(WRITTEN)
    note_after_hour(
        session=session,
        member=member,
        now=now,
        expected_version=1,
        state=State.HELD,
        attendee_count=session.attendee_count,
        decides=random.choice(DECIDE),
        budget=random.choice(Budget.values),
        asked_for=random.choice(ASKED),
    )
    write_up(
        session=session,
        expected_version=1,
        challenge=challenge,
        goal=goal,
        opportunities=opportunities,
        next_steps=next_steps,
    )
    draw(session=session, expected_version=1, steps=steps)

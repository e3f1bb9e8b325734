"""Send a takeaway: the file as it is now, a link, the letters, the deliverable marked sent."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.template.loader import render_to_string

from pipeline.mail.models import Stops
from pipeline.mail.outbox import write
from pipeline.mail.stopped import refuse_stopped, way_out, with_way_out
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused
from pipeline.typeset.setting import Document
from sessions.deliverables import mark_sent
from sessions.formats import TAKEAWAY
from sessions.locking import take_session
from sessions.models import Deliverable, DiscoverySession, Opening, SharedTakeaway, State

from .setting import file_name


def send(
    *,
    session: DiscoverySession,
    member: Member,
    now: datetime,
    to: Sequence[str],
    subject: str,
    words: str,
    document: Document,
    seen: int,
) -> SharedTakeaway:
    """Send ``document`` to the addresses ``to``, each in a letter of its own.

    ``seen`` is the number of earlier sendings that the sender had before them; where somebody
    else sent it meanwhile nothing goes out.
    """
    stored = ""
    try:
        with transaction.atomic():
            row = take_session(session, None)
            _check(row, seen)
            refuse_stopped(row.team, to, field="contacts")
            deliverable = _owed(row)
            if deliverable is not None and deliverable.sent_on is None:
                mark_sent(
                    deliverable=deliverable,
                    member=member,
                    now=now,
                    sent_on=row.team.today(now),
                    sent_to=", ".join(to)[:300],
                )
            shared = SharedTakeaway(
                team=row.team,
                session=row,
                deliverable=deliverable,
                file_name=file_name(row),
                sent_to=", ".join(to)[:1000],
                sent_at=now,
                sent_by=member,
            )
            shared.file.save(shared.file_name, ContentFile(document.pdf), save=False)
            stored = shared.file.name
            shared.save()
            _write_letters(shared, to, subject, words, member, now)
    except BaseException:
        # the row does not know of the file: nobody would ever find it
        if stored:
            shared.file.storage.delete(stored)
        raise
    return shared


def link_to(shared: SharedTakeaway) -> str:
    """Return the full address that the lead may pass on."""
    return settings.BASE_URL + shared.get_absolute_url()


@transaction.atomic
def count_opening(shared: SharedTakeaway, *, now: datetime) -> None:
    """Count that somebody opened the file, on the team's local day."""
    Opening.count(shared, shared.team.today(now))


def _check(session: DiscoverySession, seen: int) -> None:
    if session.state != State.HELD:
        raise Refused("Mark the session held first: a takeaway follows from what was said.")
    last = SharedTakeaway.objects.filter(session=session).select_related("sent_by__user")
    if len(last) != seen:
        raise Refused(
            f"It was sent to {last[0].sent_to} meanwhile, by {last[0].sent_by or 'somebody'}. "
            "Nothing was sent now; send again below if it should go out once more."
            if last
            else "Open the page anew, then send."
        )


def _owed(session: DiscoverySession) -> Deliverable | None:
    """Return the session's takeaway among what was promised."""
    promised: Deliverable | None = Deliverable.objects.filter(
        session=session, title__iexact=TAKEAWAY
    ).first()
    return promised


def _write_letters(
    shared: SharedTakeaway,
    to: Sequence[str],
    subject: str,
    words: str,
    member: Member,
    now: datetime,
) -> None:
    context = {
        "words": words.strip(),
        "link": link_to(shared),
        "member": member,
        "team": shared.team,
    }
    for number, address in enumerate(to, start=1):
        context["way_out"] = way_out(shared.team, address)
        write(
            team=shared.team,
            key=f"takeaway|{shared.pk}|{number}",
            to=address,
            subject=subject,
            text=with_way_out(
                render_to_string("mail/takeaway.txt", context), shared.team, address
            ),
            html=render_to_string("mail/takeaway.html", context),
            due_at=now,
            by=member,
            stops=Stops.LETTERS,
        )

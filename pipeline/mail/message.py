"""A letter as an Internet message: text, HTML, and the calendar file as RFC 6047 wants it."""

from __future__ import annotations

import re
from email.headerregistry import (
    Address,
    BaseHeader,
    HeaderRegistry,
    UniqueUnstructuredHeader,
)
from email.message import EmailMessage
from email.policy import SMTP, EmailPolicy, Policy

from django.conf import settings

from .models import Letter
from .outbox import message_id, own_host
from .stopping import stop_link


class Whole(UniqueUnstructuredHeader, BaseHeader):  # type: ignore[misc]
    """A header that stays on one line: an address that was broken up is read by nobody."""

    def fold(self, *, policy: Policy) -> str:
        """Return the header's line."""
        return f"{self.name}: {self}{policy.linesep}"


def _policy() -> EmailPolicy[EmailMessage]:
    headers = HeaderRegistry()
    # RFC 8058, 3.1: one HTTPS address. Left to itself a long one becomes encoded words.
    headers.map_to_type("list-unsubscribe", Whole)
    return SMTP.clone(header_factory=headers)


POLICY = _policy()


def calendar_method(letter: Letter) -> str:
    """Return the method named in the letter's calendar file; empty without one."""
    named = re.search(r"^METHOD:([A-Z-]+)\r?$", letter.calendar, re.MULTILINE)
    return named[1] if named else ""


def message_of(letter: Letter) -> EmailMessage:
    """Return the message in which ``letter`` goes out; the same letter gives the same message."""
    message = EmailMessage(policy=POLICY)
    message["From"] = _sender(letter)
    message["To"] = letter.to
    if letter.by is not None:
        message["Reply-To"] = _address(str(letter.by), letter.by.user.email)
    message["Subject"] = letter.subject
    message["Date"] = letter.due_at
    message["Message-ID"] = message_id(letter)
    if letter.by is None:
        # RFC 3834, 5: nobody wrote it, so no program should answer it.
        message["Auto-Submitted"] = "auto-generated"
    if letter.stops:
        # RFC 2369, 3.2, and RFC 8058, 3.1
        message["List-Unsubscribe"] = f"<{stop_link(letter)}>"
        message["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    message.set_content(letter.text)
    if letter.html:
        message.add_alternative(letter.html, subtype="html")
    if letter.calendar:
        method = calendar_method(letter)
        message.add_alternative(
            letter.calendar, subtype="calendar", params={"method": method} if method else {}
        )
    if message.is_multipart():
        # made up anew each time otherwise
        message.set_boundary(f"part-of-{letter.team_id}-{letter.pk}")
    return message


def _sender(letter: Letter) -> Address:
    name = f"{letter.by}, {letter.team}" if letter.by is not None else str(letter.team)
    return _address(name, settings.EMAIL_FROM or f"letters@{own_host()}")


def _address(name: str, email: str) -> Address:
    # a line break would start another header
    return Address(" ".join(name.split()), addr_spec=email)

"""The browsers in which people are signed in: each ends by itself, and can be ended from another.

This module is ``settings.SESSION_ENGINE``: Django finds ``SessionStore`` in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY, login
from django.contrib.sessions.backends.db import SessionStore as RowStore
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from pipeline.clock import moment
from pipeline.teams.models import User

from .models import SignIn

# How exactly it is known when a browser was seen last.
EVERY = timedelta(minutes=10)
# As Django makes keys; whatever else stands in a cookie is none.
OURS = re.compile(r"[a-z0-9]{32}")
BEGAN, AGENT = "began", "agent"

# The first that is found names the browser, the system.
PROGRAMS = {"Edg": "Edge", "OPR/": "Opera", "Firefox/": "Firefox", "Chrom": "Chrome"}
PROGRAMS |= {"Safari/": "Safari"}
SYSTEMS = {"Android": "Android", "iPhone": "an iPhone", "iPad": "an iPad", "Mac OS": "macOS"}
SYSTEMS |= {"Windows": "Windows", "CrOS": "ChromeOS", "Linux": "Linux"}


class SessionStore(RowStore):
    """Django's sessions in rows that know whose they are, by our own clock."""

    seen_at: datetime | None = None

    @classmethod
    def get_model_class(cls) -> type[Any]:
        """Return the table."""
        return SignIn

    def _get_session_from_db(self) -> SignIn | None:
        row = None
        if OURS.fullmatch(self.session_key or ""):
            rows = SignIn.objects.filter(session_key=self.session_key)
            row = rows.filter(expire_date__gt=moment.now()).first()
        if row is None:
            self._session_key = None
        else:
            self.seen_at = row.seen_at
        return row

    def create_model_instance(self, data: dict[str, Any]) -> SignIn:
        """Return the row of this session as it is now."""
        now = moment.now()
        began = datetime.fromisoformat(data.setdefault(BEGAN, now.isoformat()))
        return SignIn(
            session_key=self._get_or_create_session_key(),  # type: ignore[attr-defined]
            session_data=self.encode(data),
            user_id=data.get(SESSION_KEY),
            began_at=began,
            seen_at=now,
            expire_date=_ends(began, now),
        )

    def cycle_key(self) -> None:
        """Go on under another key; the time until one must sign in again begins anew."""
        self.pop(BEGAN, None)
        super().cycle_key()

    def keep_awake(self, now: datetime) -> None:
        """Note that the browser was seen, unless it was a short while ago."""
        if self.session_key is None or self.seen_at is None or now - self.seen_at < EVERY:
            return
        began = datetime.fromisoformat(self[BEGAN])
        SignIn.objects.filter(session_key=self.session_key).update(
            seen_at=now, expire_date=_ends(began, now)
        )


def _ends(began: datetime, seen: datetime) -> datetime:
    idle = seen + timedelta(seconds=settings.SESSION_IDLE)
    return min(idle, began + timedelta(seconds=settings.SESSION_COOKIE_AGE))


def keep_awake(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Let a browser that is used stay signed in.

    The one thing that a GET writes: not about any team, and seldom.
    """

    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        session = request.session
        if session.accessed and not session.modified:
            session.keep_awake(moment.now())  # type: ignore[attr-defined]
        return response

    return middleware


def enter(request: HttpRequest, user: User) -> None:
    """Sign in, under a new key; what has ended is cleared away by the way."""
    login(request, user)
    request.session[AGENT] = request.headers.get("User-Agent", "")[:300]
    SignIn.objects.filter(expire_date__lte=moment.now()).delete()


def end_others(request: HttpRequest, user: User) -> int:
    """End every other browser of this person; returns how many there were."""
    kept = request.session.session_key or ""
    others = SignIn.objects.filter(user=user, expire_date__gt=moment.now())
    return others.exclude(session_key=kept).delete()[0]


@dataclass(frozen=True)
class Place:
    """Where somebody is signed in."""

    words: str
    began_at: datetime
    seen_at: datetime
    here: bool


def places(request: HttpRequest, user: User, now: datetime) -> list[Place]:
    """Return where this person is signed in, this browser first."""
    rows = SignIn.objects.filter(user=user, expire_date__gt=now).order_by("-seen_at")
    found = [
        Place(
            words=in_words(request.session.decode(row.session_data).get(AGENT, "")),
            began_at=row.began_at,
            seen_at=row.seen_at,
            here=row.session_key == request.session.session_key,
        )
        for row in rows
    ]
    return sorted(found, key=lambda place: not place.here)


def in_words(agent: str) -> str:
    """Return what a browser says of itself, in two words; it may say what it likes."""

    def first(names: dict[str, str], otherwise: str) -> str:
        return next((word for mark, word in names.items() if re.search(mark, agent)), otherwise)

    return f"{first(PROGRAMS, 'A browser')} on {first(SYSTEMS, 'an unknown system')}"

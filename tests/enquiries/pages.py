"""Read and fill in the public page as somebody outside would."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.test import Client

from pipeline.clock import moment
from pipeline.enquiries.models import EnquiryPage
from pipeline.teams.models import Team
from tests.leads.pages import form_of

AT = "/enquire/harbour/"
TYPED = {
    "organisation": "Alder Mill",
    "name": "Ines Faro",
    "email": "ines@alder.example",
    "about": "A new site.\nWe have until May.",
}
AGREEMENT = "You may write to me about this. I may take it back."


def open_page(team: Team, **fields: Any) -> EnquiryPage:
    """Open a team's page."""
    page: EnquiryPage = EnquiryPage.objects.create(
        team=team, **{"is_open": True, "agreement": AGREEMENT, **fields}
    )
    return page


def later(**passed: int) -> Any:
    """Let time pass; half a minute unless said otherwise."""
    return moment.stopped(moment.now() + timedelta(**(passed or {"seconds": 30})))


def read(browser: Client, at: str = AT, **typed: Any) -> dict[str, Any]:
    """Open the page; return what its form posts once it is filled in."""
    return {**form_of(browser.get(at)), **TYPED, **typed}


def enquire(browser: Client, at: str = AT, **typed: Any) -> HttpResponse:
    """Open the page, fill it in, and send it half a minute later."""
    filled = read(browser, at, **typed)
    with later():
        return browser.post(at, filled)

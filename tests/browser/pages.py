"""Every page of the app, with rows whose words are long enough to hurt."""

from __future__ import annotations

from collections.abc import Iterator

from django.http.response import HttpResponseBase
from django.test import Client
from django.urls import reverse

from pipeline.accounts.inviting import link_of
from pipeline.accounts.links import sign_in_link
from pipeline.accounts.models import Invitation
from pipeline.enquiries.models import EnquiryPage
from pipeline.leads.models import Contact, Lead
from pipeline.mail.models import Letter
from pipeline.mail.stopping import stop_token
from pipeline.teams.models import User
from sessions.models import Deliverable, DiscoverySession, SharedTakeaway
from tests.access.everything import address, one_of_each
from tests.access.test_matrix import TABLE
from tests.conftest import Cast

LONG = "Grundstücksverkehrsgenehmigungszuständigkeitsübertragungsverordnungsstelle"


def long_rows(cast: Cast) -> dict[str, int | str]:
    """Make one row of every kind; names and addresses in them are too long for a line."""
    rows = one_of_each(cast)
    link = f"https://meet.{LONG.lower().encode('ascii', 'ignore').decode()}.example/{'x' * 120}"
    Lead.objects.filter(pk=rows["lead"]).update(organisation=LONG, note=link)
    Contact.objects.filter(pk=rows["contact"]).update(
        name=LONG, email=f"{'a' * 60}@{'b' * 60}.example"
    )
    DiscoverySession.objects.filter(pk=rows["session"]).update(place=link)
    Deliverable.objects.filter(pk=rows["deliverable"]).update(
        title=LONG, link=link, file_name=f"{LONG}.pdf"
    )
    Letter.objects.filter(pk=rows["letter"]).update(subject=LONG, text=link)
    return rows


def team_pages(cast: Cast) -> Iterator[str]:
    """Return the path of each page that the team's owner may open."""
    rows = long_rows(cast)
    owner = Client()
    owner.force_login(cast.owner.user)
    for name, (row, get, _) in TABLE.items():
        path = address(name, "harbour", rows[row] if row else None)
        if get.endswith("200") and _is_page(owner.head(path)):
            yield path
    yield "/t/harbour/?whose=everybody"
    yield "/t/harbour/leads/?q=nothing+like+it"
    yield f"/t/harbour/leads/{rows['lead']}/merge/?q=organisation"
    yield reverse("teams") + "?all"
    for name in ("account", "account-address", "account-password", "second-factor"):
        yield reverse(name)
    yield "/t/harbour/nothing-is-here/"
    yield SharedTakeaway.objects.get(pk=rows["shared"]).get_absolute_url()
    letter = Letter(team=cast.team, member=cast.member, to=cast.member.user.email, stops="notes")
    yield reverse("stop-letters", args=[stop_token(letter)])
    yield reverse("stop-letters", args=["none"])
    EnquiryPage.objects.create(team=cast.team, is_open=True, introduction=LONG, agreement=LONG)
    yield reverse("enquire", args=["harbour"])
    yield reverse("enquiry-sent", args=["harbour"])
    yield reverse("enquiry-page", args=["harbour"])


def _is_page(response: HttpResponseBase) -> bool:
    """Tell whether the answer is to be shown, and not kept as a file."""
    response.close()
    kept = response.headers.get("Content-Disposition", "").startswith("attachment")
    return response.headers["Content-Type"].startswith("text/html") and not kept


def outside_pages(base: str, newcomer: User) -> Iterator[str]:
    """Return the path of each page that needs nobody to be signed in."""
    yield reverse("sign-in")
    yield reverse("forgotten")
    yield link_of(Invitation.objects.open()[0]).removeprefix(base)
    yield reverse("join", args=["none"])
    yield sign_in_link(newcomer).removeprefix(base)
    yield reverse("sign-in-link", args=["none", "none"])

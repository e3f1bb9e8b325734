"""Recognise a lead that comes back: the same address, or the same organisation by its name."""

from __future__ import annotations

import re
import unicodedata

from pipeline.teams.models import Team

from .models import Contact, Lead

# How the legal form of a company is written at the end of its name, once points are dropped.
# Common practice, no source; a form that is missing here costs no more than an offer.
ENDINGS = re.compile(
    r"(?: (?:and|limited|ltd|llc|llp|lp|incorporated|inc|corporation|corp|company|co|plc"
    r"|gmbh|mbh|ggmbh|gug|ug|ag|kg|kgaa|ohg|gbr|eg|ev|ek|se|sa|sas|sasu|sarl|eurl|snc|lda|limitada"
    r"|unipessoal|ltda|sl|slu|srl|spa|sapa|bv|nv|vof|ab|hb|as|asa|aps|is|oy|oyj|ky|ou|uab|sia"
    r"|kft|zrt|nyrt|bt|sro|doo|dd|ad|ood|eood|ooo|sp z oo|pty|pte|pvt|kk|cic|cio|charity))+$"
)


def plain_name(organisation: str) -> str:
    """Return a name without case, accents, punctuation, spaces and legal form; for comparing."""
    letters = unicodedata.normalize("NFKD", organisation).casefold()
    letters = "".join(c for c in letters if not unicodedata.combining(c))
    words = re.sub(r"[.'’`]", "", letters).replace("&", " and ").replace("+", " and ")
    words = " ".join(re.findall(r"[^\W_]+", words))
    return ENDINGS.sub("", words).replace(" ", "")


def similar(
    team: Team, *, organisation: str, emails: list[str], but: Lead | None = None
) -> list[Lead]:
    """Return the team's leads of the same organisation or with one of these addresses.

    The newest come first. A lead that was merged away is answered by the one that was kept.
    """
    known = Lead.objects.for_team(team).values_list("pk", "organisation", "merged_into_id")
    kept, found = {}, set()
    name = plain_name(organisation)
    for pk, theirs, merged_into in known.iterator():
        kept[pk] = merged_into
        if name and plain_name(theirs) == name:
            found.add(pk)
    for email in filter(None, emails):
        same = Contact.objects.for_team(team).filter(email__iexact=email)
        found.update(same.values_list("lead_id", flat=True))
    present = set()
    for pk in found:
        while kept[pk] is not None:
            pk = kept[pk]
        present.add(pk)
    if but is not None:
        present.discard(but.pk)
    leads = Lead.objects.for_team(team).filter(pk__in=present).with_names()
    return list(leads.prefetch_related("contacts").order_by("-created_at", "-pk")[:10])

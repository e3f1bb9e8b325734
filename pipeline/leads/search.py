"""Find leads by words."""

from __future__ import annotations

from django.db.models import Q

from .models import Contact, LeadQuerySet


def search(leads: LeadQuerySet, words: str) -> LeadQuerySet:
    """Return those of ``leads`` in which every word is found: organisation, reference, people."""
    for word in words.split():
        people = Contact.objects.filter(_holds("name", word) | _holds("email", word))
        leads = leads.filter(
            _holds("organisation", word)
            | Q(reference__iexact=word)
            | Q(pk__in=people.values("lead"))
        )
    return leads


def _holds(field: str, word: str) -> Q:
    """Match ``word`` whatever its case. SQLite knows the case of plain ASCII letters only."""
    spellings = {word} if word.isascii() else {word, word.lower(), word.upper(), word.title()}
    found = Q()
    for spelling in sorted(spellings):
        found |= Q((f"{field}__icontains", spelling))
    return found

"""Find leads by words."""

from __future__ import annotations

from django.db.models import Q

from .models import Contact, LeadQuerySet


def search(leads: LeadQuerySet, words: str) -> LeadQuerySet:
    """Return those of ``leads`` in which every word is found: organisation, reference, people."""
    for word in words.split():
        people = Contact.objects.filter(Q(name__icontains=word) | Q(email__icontains=word))
        leads = leads.filter(
            Q(organisation__icontains=word)
            | Q(reference__iexact=word)
            | Q(pk__in=people.values("lead"))
        )
    return leads

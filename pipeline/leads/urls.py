"""Addresses of the list of leads, their entry and facts, and of merging."""

from django.urls import URLPattern, path

from .views import entry, facts, listing, merging, removing


def _pages(kind: facts.Kind, under: str) -> list[URLPattern]:
    return [
        path(f"leads/<int:pk>/{under}/new/", facts.new(kind), name=f"{kind.name}-new"),
        path(f"{under}/<int:pk>/edit/", facts.edit(kind), name=f"{kind.name}-edit"),
        path(f"{under}/<int:pk>/remove/", facts.remove(kind), name=f"{kind.name}-remove"),
    ]


urlpatterns = [
    path("leads/", listing.leads, name="leads"),
    path("leads/new/", entry.new_short, name="lead-new"),
    path("leads/new/full/", entry.new_full, name="lead-new-full"),
    path("leads/<int:pk>/edit/", entry.edit, name="lead-edit"),
    path("leads/<int:pk>/remove/", removing.lead_remove, name="lead-remove"),
    path("removed/", removing.removed, name="removed"),
    path("removed/<int:pk>/put-back/", removing.put_back, name="put-back"),
    *_pages(facts.CONTACT, "contacts"),
    *_pages(facts.CONVERSATION, "conversations"),
    *_pages(facts.DECISION, "decisions"),
    *_pages(facts.PROPOSAL, "proposals"),
    *_pages(facts.FUNDING, "fundings"),
    path("leads/<int:pk>/merge/", merging.lead_merge, name="lead-merge"),
    path("merges/<int:pk>/undo/", merging.merge_undo, name="merge-undo"),
]

"""Addresses: those of people, and below ``/t/<slug>/`` those of a team."""

from django.urls import include, path

team_patterns = [
    path("", include("pipeline.followups.urls")),
    path("", include("pipeline.leads.urls")),
    path("", include("sessions.urls")),
    path("", include("sessions.takeaways.urls")),
    path("", include("pipeline.enquiries.urls")),
    path("", include("pipeline.results.urls")),
    path("", include("pipeline.rights.urls")),
    path("", include("pipeline.exchange.urls")),
    path("", include("pipeline.mail.urls")),
    path("", include("pipeline.watching.team_urls")),
    path("", include("pipeline.history.urls")),
    path("", include("pipeline.accounts.team_urls")),
    path("", include("pipeline.teams.urls")),
]

urlpatterns = [
    path("", include("pipeline.watching.urls")),
    path("", include("pipeline.accounts.urls")),
    path("", include("pipeline.mail.public_urls")),
    path("", include("pipeline.enquiries.public_urls")),
    path("", include("pipeline.followups.feed_urls")),
    path("", include("sessions.takeaways.shared_urls")),
    path("t/<slug:slug>/", include(team_patterns)),
]

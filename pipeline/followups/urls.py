"""Addresses of what is due, of a lead's page, and of follow-ups."""

from django.urls import path

from .views import lead, start

urlpatterns = [
    path("", start.start, name="start"),
    path("leads/<int:pk>/", lead.lead, name="lead"),
]

"""Addresses of a team as a whole."""

from django.urls import path

from . import absence_views, views

urlpatterns = [
    path("team/", views.team, name="team"),
    path("team/settings/", views.settings, name="team-settings"),
    path("team/logo/", views.logo, name="team-logo"),
    path("team/letters/", views.wanted, name="wanted"),
    path("team/absences/new/", absence_views.new, name="absence-new"),
    path("team/absences/<int:pk>/edit/", absence_views.edit, name="absence-edit"),
    path("team/absences/<int:pk>/remove/", absence_views.remove, name="absence-remove"),
    path("team/<int:pk>/role/", views.role, name="member-role"),
    path("team/<int:pk>/remove/", views.remove, name="member-remove"),
]

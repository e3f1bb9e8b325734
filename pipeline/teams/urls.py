"""Addresses of a team as a whole."""

from django.urls import path

from . import views

urlpatterns = [
    path("team/", views.team, name="team"),
    path("team/settings/", views.settings, name="team-settings"),
    path("team/logo/", views.logo, name="team-logo"),
    path("team/digest/", views.digest, name="digest"),
    path("team/<int:pk>/role/", views.role, name="member-role"),
    path("team/<int:pk>/remove/", views.remove, name="member-remove"),
]

"""Addresses of what failed in a team."""

from django.urls import path

from . import team_views

urlpatterns = [
    path("failed/", team_views.failed, name="failed"),
    path("failed/again/", team_views.all_again, name="failed-again"),
    path("failed/<int:pk>/again/", team_views.job_again, name="job-again"),
]

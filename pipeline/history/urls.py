"""Addresses of what was changed, below a team's."""

from django.urls import path

from . import views

urlpatterns = [
    path("changes/<str:name>/", views.changes, name="changes"),
]

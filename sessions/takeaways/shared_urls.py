"""Addresses that a lead opens, outside any team."""

from django.urls import path

from sessions.views import shared

urlpatterns = [
    path("takeaway/<str:token>/", shared.shared, name="shared"),
    path("takeaway/<str:token>/takeaway.pdf", shared.shared_file, name="shared-file"),
]

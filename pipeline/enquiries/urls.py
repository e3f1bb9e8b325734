"""Addresses of a team's own look at its page for enquiries."""

from django.urls import path

from . import team_views

urlpatterns = [
    path("team/enquiries/", team_views.enquiry_page, name="enquiry-page"),
    path("team/enquiries/edit/", team_views.enquiry_page_edit, name="enquiry-page-edit"),
]

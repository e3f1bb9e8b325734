"""Addresses, below a team's, of letting people in."""

from django.urls import path

from . import members

urlpatterns = [
    path("team/new/", members.new, name="member-new"),
    path("team/<int:pk>/link/", members.link, name="member-link"),
    path("team/asked/<str:token>/", members.asked, name="member-asked"),
]

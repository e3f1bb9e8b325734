"""Addresses outside any team."""

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path
from django.views.generic import RedirectView

from . import views

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="teams")),
    path(
        "sign-in/",
        LoginView.as_view(template_name="accounts/sign_in.html", redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("link/<str:uid>/<str:token>/", views.open_link, name="sign-in-link"),
    path("join/<str:token>/", views.join_team, name="join"),
    path("teams/", views.teams, name="teams"),
]

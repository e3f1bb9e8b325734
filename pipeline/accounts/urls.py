"""Addresses outside any team."""

from django.urls import path
from django.views.generic import RedirectView

from . import account_views, second_factor_views, sign_in_views, views

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="teams")),
    path("sign-in/", sign_in_views.SignInView.as_view(), name="sign-in"),
    path("sign-in/code/", sign_in_views.code, name="sign-in-code"),
    path("sign-out/", sign_in_views.SignOutView.as_view(), name="sign-out"),
    path("forgotten/", sign_in_views.forgotten, name="forgotten"),
    path("reset/<str:token>/", sign_in_views.reset, name="reset"),
    path("link/<str:uid>/<str:token>/", sign_in_views.open_link, name="sign-in-link"),
    path("join/<str:token>/", views.join_team, name="join"),
    path("teams/", views.teams, name="teams"),
    path("account/", account_views.account, name="account"),
    path("account/name/", account_views.name, name="account-name"),
    path("account/address/", account_views.address, name="account-address"),
    path(
        "account/address/<str:token>/",
        account_views.address_is_mine,
        name="account-address-is-mine",
    ),
    path("account/password/", account_views.password, name="account-password"),
    path("account/elsewhere/end/", account_views.end_elsewhere, name="account-end-elsewhere"),
    path("account/second-factor/", second_factor_views.set_up, name="second-factor"),
    path("account/second-factor/codes/", second_factor_views.renew, name="second-factor-codes"),
    path("account/second-factor/off/", second_factor_views.take_off, name="second-factor-off"),
]

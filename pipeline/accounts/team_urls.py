"""Addresses, below a team's, of who gets into it."""

from django.urls import path

from . import team_views

urlpatterns = [
    path("team/access/", team_views.access, name="access"),
    path("team/access/second-factor/", team_views.require_second_factor, name="access-factor"),
    path("team/access/hand-over/", team_views.hand_over, name="hand-over"),
    path("team/new/", team_views.new, name="member-new"),
    path("team/invitations/<int:pk>/again/", team_views.send_again, name="invitation-again"),
    path("team/invitations/<int:pk>/withdraw/", team_views.withdraw, name="invitation-withdraw"),
    path("team/<int:pk>/link/", team_views.link, name="member-link"),
    path("team/leave/", team_views.leave, name="leave"),
]

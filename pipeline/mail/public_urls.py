"""Addresses of letters outside any team: whoever gets one may stop the rest."""

from django.urls import path

from . import stop_views

urlpatterns = [path("stop/<str:token>/", stop_views.stop, name="stop-letters")]

"""The address at which people outside any team enquire."""

from django.urls import path

from . import views

urlpatterns = [
    path("enquire/<slug:slug>/", views.enquire, name="enquire"),
    path("enquire/<slug:slug>/sent/", views.sent, name="enquiry-sent"),
]

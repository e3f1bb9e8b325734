"""Addresses of the letters that the app keeps."""

from django.urls import path

from . import views

urlpatterns = [
    path("letters/", views.letters, name="letters"),
    path("letters/<int:pk>/", views.letter, name="letter"),
    path("letters/<int:pk>/again/", views.again, name="letter-again"),
    path("letters/<int:pk>/as-sent/", views.as_sent, name="letter-as-sent"),
    path("letters/<int:pk>/calendar/", views.calendar, name="letter-calendar"),
    path("letters/<int:pk>/message/", views.message, name="letter-message"),
]

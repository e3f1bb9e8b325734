"""Addresses of people's data, below a team's."""

from django.urls import path

from . import retention_views, views

urlpatterns = [
    path("rights/", views.rights, name="rights"),
    path("rights/search/", views.rights_search, name="rights-search"),
    path("rights/retention/", retention_views.retention, name="retention"),
    path("rights/retention/period/", retention_views.retention_period, name="retention-period"),
    path("rights/retention/erase/", retention_views.retention_erase, name="retention-erase"),
    path("contacts/<int:pk>/data/", views.contact_data, name="contact-data"),
    path("contacts/<int:pk>/erase/", views.contact_erase, name="contact-erase"),
]

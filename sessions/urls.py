"""Addresses of sessions, formats and deliverables, below a team's."""

from django.urls import path

from .views import agendas, booking, deliverables, desk, formats, inviting, listing, session

urlpatterns = [
    path("sessions/", listing.sessions, name="sessions"),
    path("leads/<int:pk>/book/", booking.session_book, name="session-book"),
    path("sessions/<int:pk>/", session.session, name="session"),
    path("sessions/<int:pk>/edit/", booking.session_edit, name="session-edit"),
    path("sessions/<int:pk>/held/", session.session_held, name="session-held"),
    path("sessions/<int:pk>/missed/", session.session_missed, name="session-missed"),
    path("sessions/<int:pk>/cancel/", session.session_cancel, name="session-cancel"),
    path("sessions/<int:pk>/back/", session.session_back, name="session-back"),
    path("sessions/<int:pk>/invite/", inviting.session_invite, name="session-invite"),
    path("sessions/<int:pk>/entry.ics", inviting.session_entry, name="session-entry"),
    path("sessions/<int:pk>/desk/", desk.desk, name="desk"),
    path("sessions/<int:pk>/desk/changes/", desk.desk_changes, name="desk-changes"),
    path("sessions/<int:pk>/desk/catch/", desk.desk_catch, name="desk-catch"),
    path("formats/", formats.formats, name="formats"),
    path("formats/new/", agendas.format_new, name="format-new"),
    path("formats/<int:pk>/", formats.format, name="format"),
    path("formats/<int:pk>/edit/", agendas.format_edit, name="format-edit"),
    path("formats/<int:pk>/retire/", agendas.format_retire, name="format-retire"),
    path("formats/<int:pk>/bring-back/", agendas.format_bring_back, name="format-bring-back"),
    path("formats/<int:pk>/compare/", agendas.format_compare, name="format-compare"),
    path("deliverables/", deliverables.deliverables, name="deliverables"),
    path("sessions/<int:pk>/promise/", deliverables.deliverable_new, name="deliverable-new"),
    path("deliverables/<int:pk>/", deliverables.deliverable, name="deliverable"),
    path("deliverables/<int:pk>/sent/", deliverables.deliverable_sent, name="deliverable-sent"),
    path("deliverables/<int:pk>/waive/", deliverables.deliverable_waive, name="deliverable-waive"),
    path("deliverables/<int:pk>/owe/", deliverables.deliverable_owe, name="deliverable-owe"),
    path("deliverables/<int:pk>/file/", deliverables.deliverable_file, name="deliverable-file"),
]

from django.urls import path

from . import views

urlpatterns = [
    path("sheets/", views.sheets, name="sheets"),
    path("sheets/<int:pk>/", views.sheet, name="sheet"),
    path("sheets/<int:pk>/take-in/", views.sheet_take_in, name="sheet-take-in"),
    path("sheets/<int:pk>/rejects.csv", views.sheet_rejects, name="sheet-rejects"),
    path("unsent/", views.unsent, name="unsent"),
    path("leads.csv", views.export, name="export"),
]

from django.urls import path

from pipeline.results.rates import views

urlpatterns = [
    path("", views.rates, name="rates"),
    path("new/", views.new, name="rate-new"),
    path("<int:pk>/", views.edit, name="rate-edit"),
    path("<int:pk>/remove/", views.remove, name="rate-remove"),
]

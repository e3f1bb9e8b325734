from django.urls import include, path

from pipeline.results import views

urlpatterns = [
    path("results/", views.page, name="results"),
    path("results/rates/", include("pipeline.results.rates.urls")),
]

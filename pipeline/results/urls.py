from django.urls import path

from pipeline.results import views

urlpatterns = [path("results/", views.page, name="results")]

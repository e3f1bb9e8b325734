from django.apps import AppConfig


class ResultsConfig(AppConfig):
    name = "pipeline.results"
    label = "results"

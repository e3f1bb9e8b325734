from django.apps import AppConfig


class TeamsConfig(AppConfig):
    name = "pipeline.teams"
    label = "teams"

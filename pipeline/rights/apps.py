from django.apps import AppConfig


class RightsConfig(AppConfig):
    name = "pipeline.rights"
    label = "rights"

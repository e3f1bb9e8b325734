from django.apps import AppConfig


class WatchingConfig(AppConfig):
    name = "pipeline.watching"
    label = "watching"

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "pipeline.jobs"
    label = "jobs"

from django.apps import AppConfig


class LeadsConfig(AppConfig):
    name = "pipeline.leads"
    label = "leads"

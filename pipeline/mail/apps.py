from django.apps import AppConfig


class MailConfig(AppConfig):
    name = "pipeline.mail"
    label = "mail"

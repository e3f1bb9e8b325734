from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "pipeline.accounts"
    label = "accounts"

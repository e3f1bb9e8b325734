from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "pipeline.exchange"
    label = "exchange"

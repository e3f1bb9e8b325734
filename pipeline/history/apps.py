from django.apps import AppConfig
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate


class HistoryConfig(AppConfig):
    name = "pipeline.history"
    label = "history"

    def ready(self) -> None:
        # Only now are the models there.
        from .installing import answer_triggers, install, make_way

        connection_created.connect(answer_triggers)
        # Once a migrate, after the tables of all apps.
        pre_migrate.connect(make_way, sender=self)
        post_migrate.connect(install, sender=self)

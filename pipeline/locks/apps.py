from django.apps import AppConfig, apps
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate

from .asking import take_role
from .installing import install, make_way


class LocksConfig(AppConfig):
    name = "pipeline.locks"
    label = "locks"

    def ready(self) -> None:
        connection_created.connect(take_role)
        # Once a migrate, and after the tables of all apps; those without models are never told.
        teams = apps.get_app_config("teams")
        pre_migrate.connect(make_way, sender=teams)
        post_migrate.connect(install, sender=teams)

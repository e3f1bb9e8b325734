from django.apps import AppConfig


class SessionsConfig(AppConfig):
    # Django's own login sessions have the label "sessions".
    name = "sessions"
    label = "discovery"
    default_auto_field = "django.db.models.BigAutoField"

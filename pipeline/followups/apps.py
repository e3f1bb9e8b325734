from django.apps import AppConfig


class FollowupsConfig(AppConfig):
    name = "pipeline.followups"
    label = "followups"

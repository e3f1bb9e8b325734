from django.apps import AppConfig


class EnquiriesConfig(AppConfig):
    name = "pipeline.enquiries"
    label = "enquiries"

"""Addresses of what follows from a session: the write-up, the chart, the takeaway, a batch."""

from django.urls import path

from sessions.views import batches, takeaway, write_up

urlpatterns = [
    path("sessions/<int:pk>/after/", write_up.after_hour, name="after-hour"),
    path("sessions/<int:pk>/write-up/", write_up.write_up, name="write-up"),
    path("sessions/<int:pk>/lanes/", write_up.lane_chart, name="lane-chart"),
    path("sessions/<int:pk>/takeaway/", takeaway.takeaway, name="takeaway"),
    path("sessions/<int:pk>/takeaway.pdf", takeaway.takeaway_pdf, name="takeaway-pdf"),
    path("sessions/<int:pk>/takeaway/send/", takeaway.takeaway_send, name="takeaway-send"),
    path("takeaways/sent/<int:pk>/end/", takeaway.shared_end, name="shared-end"),
    path("takeaways/", batches.takeaways, name="takeaways"),
    path("takeaways/<int:pk>/", batches.batch, name="batch"),
    path("takeaways/<int:pk>/all.zip", batches.batch_zip, name="batch-zip"),
]

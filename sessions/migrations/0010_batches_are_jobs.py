"""What waits of a batch becomes jobs: there is one engine for due work."""

from django.db import migrations


def plan(apps, schema_editor):
    """Give every takeaway that waits its job, due when it was asked for."""
    Job = apps.get_model("jobs", "Job")
    BatchItem = apps.get_model("discovery", "BatchItem")
    waiting = BatchItem.objects.filter(done_at=None).select_related("batch")
    jobs = [
        Job(
            team_id=item.team_id,
            kind="takeaway",
            key=f"takeaway|{item.pk}",
            about={"item": item.pk},
            due_at=item.batch.asked_at,
            next_attempt_at=item.batch.asked_at,
        )
        for item in waiting.iterator()
    ]
    Job.objects.bulk_create(jobs, batch_size=500, ignore_conflicts=True)


def leave(apps, schema_editor):
    """Without jobs the items themselves wait again."""
    apps.get_model("jobs", "Job").objects.filter(kind="takeaway").delete()


class Migration(migrations.Migration):
    dependencies = [
        ("discovery", "0009_offers"),
        ("jobs", "0002_watched"),
    ]

    operations = [
        migrations.RunPython(plan, leave),
        migrations.RemoveField("batchitem", "attempts"),
        migrations.RemoveField("batchitem", "claim"),
        migrations.RemoveField("batchitem", "claimed_until"),
    ]

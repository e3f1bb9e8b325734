import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


def first_editions(apps, schema_editor):
    """Make what each team's plan is today its first edition, which holds from the start."""
    Edition = apps.get_model("followups", "PlanEdition")
    Step = apps.get_model("followups", "PlanStep")
    teams = Step.objects.order_by().values_list("team_id", flat=True).distinct()
    Edition.objects.bulk_create(
        [Edition(team_id=pk, number=1) for pk in sorted(teams)], batch_size=500
    )
    of_team = Edition.objects.filter(team=models.OuterRef("team")).values("pk")[:1]
    Step.objects.update(edition=models.Subquery(of_team))
    check_now(schema_editor)


def newest_editions(apps, schema_editor):
    """Keep of each team's plan only the steps that it asks for today."""
    Edition = apps.get_model("followups", "PlanEdition")
    Step = apps.get_model("followups", "PlanStep")
    newest = (
        Edition.objects.filter(team=models.OuterRef("team")).order_by("-number").values("pk")[:1]
    )
    Step.objects.exclude(edition=models.Subquery(newest)).delete()
    Step.objects.update(edition=None)
    Edition.objects.all().delete()
    check_now(schema_editor)


def check_now(schema_editor):
    # PostgreSQL alters no table whose foreign keys are still to be checked.
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


class Migration(migrations.Migration):
    dependencies = [
        ("followups", "0002_feeds"),
        ("teams", "0005_hours_of_work"),
    ]

    operations = [
        migrations.CreateModel(
            name="PlanEdition",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("made_at", models.DateTimeField(null=True)),
                ("everywhere_at", models.DateTimeField(null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="teams.member",
                    ),
                ),
                (
                    "team",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="teams.team",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(fields=("team", "number"), name="edition_unique")
                ],
            },
        ),
        migrations.RemoveConstraint(
            model_name="planstep",
            name="plan_unique",
        ),
        migrations.AddField(
            model_name="planstep",
            name="edition",
            field=models.ForeignKey(
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="steps",
                to="followups.planedition",
            ),
        ),
        migrations.AddField(
            model_name="planstep",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="planstep",
            name="letter_subject",
            field=models.CharField(
                blank=True, max_length=200, verbose_name="subject of the letter"
            ),
        ),
        migrations.AddField(
            model_name="planstep",
            name="letter_text",
            field=models.TextField(blank=True, verbose_name="text of the letter"),
        ),
        migrations.AlterField(
            model_name="planstep",
            name="trigger",
            field=models.CharField(
                choices=[
                    ("deliverable sent", "deliverable sent"),
                    ("session missed", "session missed"),
                    ("proposal sent", "proposal sent"),
                    ("engaged", "engaged"),
                    ("no budget yet", "no budget yet"),
                    ("declined", "declined"),
                    ("gone quiet", "gone quiet"),
                    ("turned away", "turned away"),
                    ("funding arrived", "funding arrived"),
                ],
                max_length=16,
                verbose_name="after",
            ),
        ),
        migrations.AlterField(
            model_name="planstep",
            name="position",
            field=models.PositiveSmallIntegerField(editable=False),
        ),
        migrations.AlterField(
            model_name="planstep",
            name="count",
            field=models.PositiveSmallIntegerField(
                validators=[django.core.validators.MaxValueValidator(520)], verbose_name="how many"
            ),
        ),
        migrations.AlterField(
            model_name="planstep",
            name="unit",
            field=models.CharField(
                choices=[
                    ("working days", "working days after"),
                    ("weeks", "weeks after"),
                    ("months", "months after"),
                    ("weeks before funding", "weeks before money is expected"),
                ],
                max_length=20,
                verbose_name="of what",
            ),
        ),
        migrations.AlterField(
            model_name="planstep",
            name="times",
            field=models.PositiveSmallIntegerField(
                default=1,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(24),
                ],
                verbose_name="at most so many times",
            ),
        ),
        migrations.RunPython(first_editions, newest_editions),
        migrations.AlterField(
            model_name="planstep",
            name="edition",
            field=models.ForeignKey(
                editable=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="steps",
                to="followups.planedition",
            ),
        ),
        migrations.AddConstraint(
            model_name="planstep",
            constraint=models.UniqueConstraint(
                fields=("team", "edition", "trigger", "position"), name="plan_unique"
            ),
        ),
    ]

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followups", "0003_plans_in_editions"),
        ("leads", "0004_amounts_that_every_database_keeps"),
        ("mail", "0003_claims_and_stopped_addresses"),
        ("teams", "0006_absences_days_off_and_wanted_letters"),
    ]

    operations = [
        migrations.CreateModel(
            name="Consent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=254)),
                ("stopped_at", models.DateTimeField()),
                ("day", models.DateField()),
                ("said", models.TextField()),
                ("recorded_at", models.DateTimeField()),
                (
                    "lead",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="consents",
                        to="leads.lead",
                    ),
                ),
                (
                    "recorded_by",
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
                "ordering": ["day", "pk"],
            },
        ),
        migrations.CreateModel(
            name="LeadLetter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                ("to", models.EmailField(blank=True, editable=False, max_length=254)),
                ("subject", models.CharField(max_length=200)),
                ("text", models.TextField(verbose_name="letter")),
                ("created_at", models.DateTimeField(editable=False)),
                ("sent_at", models.DateTimeField(editable=False, null=True)),
                (
                    "contact",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="leads.contact",
                    ),
                ),
                (
                    "follow_up",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="letters",
                        to="followups.followup",
                    ),
                ),
                (
                    "lead",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="letters",
                        to="leads.lead",
                    ),
                ),
                (
                    "letter",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="mail.letter",
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
                (
                    "written_by",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="teams.member",
                    ),
                ),
            ],
            options={
                "verbose_name": "letter",
                "ordering": ["created_at", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("team", "letter"), name="lead_letter_once")
                ],
            },
        ),
    ]

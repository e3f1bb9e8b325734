from django.db import migrations

import pipeline.teams.money

AMOUNTS = [
    ("lead", "budget_at_entry", "budget at entry"),
    ("lead", "expected_fee", None),
    ("decision", "fee", None),
    ("proposal", "fee", None),
]


class Migration(migrations.Migration):
    dependencies = [("leads", "0003_sources_go_with_their_team")]

    operations = [
        migrations.AlterField(
            model_name=model,
            name=name,
            field=pipeline.teams.money.AmountField(
                blank=True, decimal_places=3, max_digits=15, null=True, verbose_name=label
            ),
        )
        for model, name, label in AMOUNTS
    ]

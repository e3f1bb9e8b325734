from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("leads", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="lead",
            name="imported_as",
            field=models.CharField(blank=True, editable=False, max_length=200, null=True),
        ),
    ]

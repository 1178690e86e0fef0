from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0002_sheets_wait_to_be_looked_at")]

    operations = [
        migrations.AddField(
            model_name="partfitting",
            name="fitted_on",
            field=models.DateField(blank=True, null=True),
        ),
    ]

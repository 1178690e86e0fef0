"""The identity of a ledger stands apart from that of the row, so that it can go along."""

import uuid

from django.db import migrations, models


def keep_chains(apps, schema_editor):
    """What was chained so far started from the id of the row."""
    engines = apps.get_model("fleet", "Engine").objects
    engines.update(chain_id=models.F("public_id"))


class Migration(migrations.Migration):
    dependencies = [("fleet", "0004_fuel_and_climate")]

    operations = [
        migrations.AddField(
            model_name="engine",
            name="chain_id",
            field=models.UUIDField(null=True, editable=False),
        ),
        migrations.RunPython(keep_chains, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="engine",
            name="chain_id",
            field=models.UUIDField(default=uuid.uuid4, editable=False),
        ),
        migrations.AddConstraint(
            model_name="engine",
            constraint=models.UniqueConstraint(
                fields=["station", "chain_id"],
                name="fleet_engine_chain_once_per_station",
                violation_error_message="This station already keeps that engine.",
            ),
        ),
    ]

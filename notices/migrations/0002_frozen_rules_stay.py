"""The database itself refuses to change a rule that confirming has frozen.

Only whether it is the current version may still change.
"""

from django.db import migrations

TABLE = "notices_ruleversion"
TRIGGER = f"{TABLE}_stays_frozen"
MESSAGE = "A frozen rule stays as it is; a change is a new version."
KEPT = (
    "provision_id",
    "number",
    "schema",
    "applicability",
    "condition",
    "action",
    "interval",
    "fluids",
    "reason",
    "written_at",
    "written_by_id",
    "frozen_at",
)


def any_changed(differs):
    return " OR ".join(f'NEW."{name}" {differs} OLD."{name}"' for name in KEPT)


SQLITE = [
    f"CREATE TRIGGER {TRIGGER} BEFORE UPDATE ON {TABLE} "
    f"WHEN OLD.frozen_at IS NOT NULL AND ({any_changed('IS NOT')}) "
    f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
]
SQLITE_REVERSE = [f"DROP TRIGGER IF EXISTS {TRIGGER}"]
POSTGRESQL = [
    f"CREATE FUNCTION {TRIGGER}() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'restrict_violation'; "
    "END $$",
    f"CREATE TRIGGER {TRIGGER} BEFORE UPDATE ON {TABLE} FOR EACH ROW "
    f"WHEN (OLD.frozen_at IS NOT NULL AND ({any_changed('IS DISTINCT FROM')})) "
    f"EXECUTE FUNCTION {TRIGGER}()",
]
POSTGRESQL_REVERSE = [
    f"DROP TRIGGER IF EXISTS {TRIGGER} ON {TABLE}",
    f"DROP FUNCTION IF EXISTS {TRIGGER}()",
]


def run(schema_editor, sqlite, postgresql):
    is_sqlite = schema_editor.connection.vendor == "sqlite"
    for statement in sqlite if is_sqlite else postgresql:
        schema_editor.execute(statement)


def protect(apps, schema_editor):
    run(schema_editor, SQLITE, POSTGRESQL)


def release(apps, schema_editor):
    run(schema_editor, SQLITE_REVERSE, POSTGRESQL_REVERSE)


class Migration(migrations.Migration):
    dependencies = [("notices", "0001_initial")]

    operations = [migrations.RunPython(protect, release)]

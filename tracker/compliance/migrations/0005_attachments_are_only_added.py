"""The database itself refuses to change or delete an attachment of a record."""

from django.db import migrations

TABLE = "compliance_attachment"
MESSAGE = "Attachments of records are only added, never changed or deleted."

SQLITE = [
    (
        f"CREATE TRIGGER {TABLE}_no_update BEFORE UPDATE ON {TABLE} "
        f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
    ),
    (
        f"CREATE TRIGGER {TABLE}_no_delete BEFORE DELETE ON {TABLE} "
        f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
    ),
]
SQLITE_REVERSE = [
    f"DROP TRIGGER IF EXISTS {TABLE}_no_update",
    f"DROP TRIGGER IF EXISTS {TABLE}_no_delete",
]
# ENABLE ALWAYS: otherwise a session with session_replication_role = replica deletes.
POSTGRESQL = [
    (
        f"CREATE FUNCTION {TABLE}_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'restrict_violation'; "
        "END $$"
    ),
    (
        f"CREATE TRIGGER {TABLE}_no_change BEFORE UPDATE OR DELETE ON {TABLE} "
        f"FOR EACH ROW EXECUTE FUNCTION {TABLE}_refuse()"
    ),
    (
        f"CREATE TRIGGER {TABLE}_no_truncate BEFORE TRUNCATE ON {TABLE} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {TABLE}_refuse()"
    ),
    f"ALTER TABLE {TABLE} ENABLE ALWAYS TRIGGER {TABLE}_no_change",
    f"ALTER TABLE {TABLE} ENABLE ALWAYS TRIGGER {TABLE}_no_truncate",
]
POSTGRESQL_REVERSE = [
    f"DROP TRIGGER IF EXISTS {TABLE}_no_change ON {TABLE}",
    f"DROP TRIGGER IF EXISTS {TABLE}_no_truncate ON {TABLE}",
    f"DROP FUNCTION IF EXISTS {TABLE}_refuse()",
]


def run(schema_editor, sqlite, postgresql):
    statements = sqlite if schema_editor.connection.vendor == "sqlite" else postgresql
    for statement in statements:
        schema_editor.execute(statement)


def protect(apps, schema_editor):
    run(schema_editor, SQLITE, POSTGRESQL)


def release(apps, schema_editor):
    run(schema_editor, SQLITE_REVERSE, POSTGRESQL_REVERSE)


class Migration(migrations.Migration):
    dependencies = [("compliance", "0004_attachments_of_records")]

    operations = [migrations.RunPython(protect, release)]

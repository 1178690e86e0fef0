"""Many keys as one value of a query: a database takes only so many values apart."""

from __future__ import annotations

import json
from collections.abc import Collection

from django.db import connection
from django.db.models.expressions import RawSQL


def among(keys: Collection[int]) -> RawSQL:
    """Return what `pk__in` takes for any number of keys.

    SQLite refuses a statement with more than 32,766 values. The text of the statement
    is fixed; the keys travel beside it.
    """
    if connection.vendor == "sqlite":
        listed = json.dumps([int(key) for key in keys])
        return RawSQL("SELECT value FROM json_each(%s)", [listed])
    return RawSQL("SELECT unnest(%s::bigint[])", [list(keys)])

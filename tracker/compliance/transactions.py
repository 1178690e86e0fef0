"""The one transaction of an act. On SQLite the threads of a process take turns at it.

SQLite lets one writer in and leaves the others to try again, in no order: of many, one
could try in vain until its patience is out. Waiting here, it comes in after those that
came before it. Writers in other processes still meet at the database.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from threading import RLock
from typing import Final

from django.db import connection, transaction

_TURN: Final = RLock()


@contextmanager
def one_transaction(*, durable: bool = True) -> Iterator[None]:
    """Everything inside is written, or nothing. `durable`: it is the outermost."""
    takes_turns = connection.vendor == "sqlite"
    with _TURN if takes_turns else nullcontext(), transaction.atomic(durable=durable):
        yield

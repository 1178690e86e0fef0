"""Whatever somebody with all rights does to the ledger behind it, the check tells.

Each case works on the rows or the files themselves, with the triggers lifted, as only
the owner of the database can. A cut end, an older copy and a rewritten chain are told by
a file of heads alone; everything else by the chain itself.
"""

# ruff: noqa: S608 - the statements are those of a tamperer, with names of our own

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from tests.factories.compliance import entry, ledger_unprotected
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.ledger import (
    HeadsRefused,
    Upload,
    breaks,
    lost_files,
    lost_heads,
    read_heads,
    record_hash,
    written_heads,
)
from tracker.compliance.models import Attachment, Record
from tracker.fleet.models import Engine

pytestmark = [pytest.mark.django_db, pytest.mark.both]
PHOTO = Upload("crank.jpg", b"\xff\xd8\xff\xe0photo\xff\xd9")
SCAN = Upload("page 7.pdf", b"%PDF-1.4 page\n%%EOF\n")
T = "compliance_record"
A = "compliance_attachment"


@pytest.fixture
def ledgers(
    technician: Viewer,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    now: Any,
    settings: Any,
    tmp_path: Path,
) -> tuple[Engine, Engine]:
    """Two engines with four records each, the second of each with two files."""
    settings.ATTACHMENT_DIR = tmp_path
    provision = make_provision(
        number="SB-1", rule__action={"initial": {"hours": 9, "after": "effective"},
                                     "repeat": {"hours": 9, "after": "last done"}}
    )  # fmt: skip
    made = make_engine(serial="4101"), make_engine(serial="4102")
    for engine in made:
        for day in (17, 18, 19, 20):
            files = (PHOTO, SCAN) if day == 18 else ()
            done = entry(
                date(2026, 11, day),
                hours=51_000,
                provision=provision,
                attachments=files,
            )
            changes.record_work(technician, engine, done, at=now)
    return made


def run(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def keys(engine: Engine) -> list[int]:
    return list(
        Record.objects.filter(engine=engine)
        .order_by("sequence")
        .values_list("pk", flat=True)
    )


def rewrite_from(engine: Engine, sequence: int, word: str) -> None:
    """Change a text and calculate every hash after it anew, as an insider could."""
    previous = ""
    for record in Record.objects.filter(engine=engine).order_by("sequence"):
        if record.sequence < sequence:
            previous = record.hash
            continue
        payload = record.payload
        description = record.description
        if record.sequence == sequence:
            payload = payload.replace("no wear", word)
            description = description.replace("no wear", word)
        digest = record_hash(
            previous=previous,
            engine=engine.chain_id,
            sequence=record.sequence,
            payload=payload,
        )
        run(
            f"UPDATE {T} SET payload = %s, description = %s, previous_hash = %s, "
            "hash = %s WHERE id = %s",
            payload, description, previous, digest, record.pk,
        )  # fmt: skip
        previous = digest


def move_all(one: Engine, other: Engine) -> None:
    run(f"UPDATE {T} SET engine_id = %s WHERE engine_id = %s", other.pk, one.pk)


def delete(record: int) -> None:
    run(f"DELETE FROM {A} WHERE record_id = %s", record)
    run(f"DELETE FROM {T} WHERE id = %s", record)


def swap(first: int, second: int) -> None:
    for key, number in ((first, 902), (second, 903)):
        run(f"UPDATE {T} SET sequence = %s WHERE id = %s", number, key)
    run(f"UPDATE {T} SET sequence = 3 WHERE id = %s", first)
    run(f"UPDATE {T} SET sequence = 2 WHERE id = %s", second)


def set_column(column: str, value: object) -> Callable[[Engine, Engine], None]:
    def act(one: Engine, other: Engine) -> None:
        run(f'UPDATE {T} SET "{column}" = %s WHERE id = %s', value, keys(one)[1])

    return act


def set_of_file(column: str, value: object) -> Callable[[Engine, Engine], None]:
    def act(one: Engine, other: Engine) -> None:
        run(f"UPDATE {A} SET {column} = %s WHERE record_id = %s AND \"order\" = 1",
            value, keys(one)[1])  # fmt: skip

    return act


def another_file(one: Engine, other: Engine) -> None:
    Attachment.objects.create(
        record_id=keys(one)[0], order=1, name="more.jpg", media_type="image/jpeg",
        size=9, sha256=PHOTO.sha256,
    )  # fmt: skip


def forge_in_the_middle(one: Engine, other: Engine) -> None:
    """A further record that follows from the second, whose place the third had."""
    second, third = Record.objects.filter(pk__in=keys(one)[1:3]).order_by("sequence")
    run(f"UPDATE {T} SET sequence = sequence + 100 WHERE engine_id = %s AND sequence > 2",
        one.pk)  # fmt: skip
    run(f"UPDATE {T} SET previous_hash = %s WHERE id = %s", "0" * 64, third.pk)
    third.payload = third.payload.replace(third.slot, "forged")
    digest = record_hash(
        previous=second.hash, engine=one.chain_id, sequence=3, payload=third.payload
    )
    third.pk, third.sequence, third.previous_hash = None, 3, second.hash
    third.hash, third.slot = digest, "forged"
    third.public_id = uuid4()
    third.save(force_insert=True)


IN_THE_CHAIN: dict[str, tuple[Callable[[Engine, Engine], None], int, str]] = {
    "a word of a text": (
        lambda one, other: run(f"UPDATE {T} SET payload = replace(payload, 'wear', 'tear') WHERE id = %s", keys(one)[1]), 2, "payload"),
    "a hash": (set_column("hash", "f" * 64), 2, "payload"),
    "a previous hash": (set_column("previous_hash", "f" * 64), 2, "link"),
    "the date": (set_column("on", date(2025, 1, 1)), 2, "columns"),
    "the hours": (set_column("hours", 1), 2, "columns"),
    "hours of a part": (set_column("part_hours", 1), 2, "columns"),
    "the method": (set_column("method", "part replaced"), 2, "columns"),
    "the result": (set_column("result", "cracked"), 2, "columns"),
    "the work": (set_column("description", "Nothing."), 2, "columns"),
    "the number of the document": (set_column("document_number", "SB-9"), 2, "columns"),
    "the revision of the document": (set_column("document_revision", "9"), 2, "columns"),
    "the provision": (set_column("provision_id", None), 2, "columns"),
    "the rule": (set_column("rule_id", None), 2, "columns"),
    "the slot": (set_column("slot", "another"), 2, "columns"),
    "the first record gone": (lambda one, other: delete(keys(one)[0]), 2, "gap"),
    "a record gone": (lambda one, other: delete(keys(one)[1]), 3, "gap"),
    "two records swapped": (lambda one, other: swap(*keys(one)[1:3]), 2, "link"),
    "a record put in between": (forge_in_the_middle, 103, "gap"),
    "the name of a file": (set_of_file("name", "other.jpg"), 2, "attachments"),
    "the hash of a file": (set_of_file("sha256", "0" * 64), 2, "attachments"),
    "a file taken from a record": (
        lambda one, other: run(f"DELETE FROM {A} WHERE record_id = %s", keys(one)[1]), 2, "attachments"),
    "a file given to a record": (another_file, 1, "attachments"),
}  # fmt: skip


@pytest.mark.parametrize("what", IN_THE_CHAIN)
def test_a_change_inside_a_chain_is_told_with_its_record(
    ledgers: tuple[Engine, Engine], what: str
) -> None:
    act, sequence, fault = IN_THE_CHAIN[what]
    one, other = ledgers
    with ledger_unprotected():
        act(one, other)
    [found] = breaks(Record.objects.all())
    assert (found.engine, found.sequence, found.fault) == (str(one), sequence, fault)


def test_who_recorded_it_and_when_is_part_of_the_text(
    ledgers: tuple[Engine, Engine], inspector: Viewer
) -> None:
    with ledger_unprotected():
        set_column("recorded_by_id", inspector.user.pk)(*ledgers)
    [found] = breaks(Record.objects.all())
    assert found.fault == "columns"


def test_a_record_or_a_chain_given_to_another_engine_is_told(
    ledgers: tuple[Engine, Engine], make_engine: Callable[..., Engine]
) -> None:
    third = make_engine(serial="4103")
    with ledger_unprotected():
        move_all(ledgers[0], third)
    [found] = breaks(Record.objects.all())
    assert (found.engine, found.fault) == (str(third), "link")


def test_a_record_given_to_another_station_is_told(
    ledgers: tuple[Engine, Engine], other_station: Any
) -> None:
    with ledger_unprotected():
        set_column("station_id", other_station.pk)(*ledgers)
    [found] = breaks(Record.objects.all())
    assert found.fault == "columns"


def test_a_document_that_was_exchanged_is_told(
    ledgers: tuple[Engine, Engine], station: Any
) -> None:
    other = RevisionFactory(publication__station=station)
    with ledger_unprotected():
        set_column("revision_id", other.pk)(*ledgers)
    [found] = breaks(Record.objects.all())
    assert found.fault == "columns"


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "{}", "{} {}", '{"engine":1}'])
def test_a_rewritten_text_that_is_no_record_is_told_and_stops_nothing(
    ledgers: tuple[Engine, Engine], text: str
) -> None:
    one, other = ledgers
    last = Record.objects.filter(engine=one).latest("sequence")
    digest = record_hash(
        previous=last.previous_hash, engine=one.chain_id, sequence=4, payload=text
    )
    with ledger_unprotected():
        run(
            f"UPDATE {T} SET payload = %s, hash = %s WHERE id = %s",
            text,
            digest,
            last.pk,
        )
        run(f"UPDATE {T} SET hours = 1 WHERE id = %s", keys(other)[1])
    found = [(one.sequence, one.fault) for one in breaks(Record.objects.all())]
    assert found == [(4, "columns"), (2, "columns")]


def test_files_that_a_rewritten_text_names_in_no_form_are_told(
    ledgers: tuple[Engine, Engine],
) -> None:
    last = Record.objects.filter(engine=ledgers[0]).latest("sequence")
    text = last.payload.replace('"attachments":[]', '"attachments":[1]')
    digest = record_hash(
        previous=last.previous_hash,
        engine=ledgers[0].chain_id,
        sequence=4,
        payload=text,
    )
    with ledger_unprotected():
        run(
            f"UPDATE {T} SET payload = %s, hash = %s WHERE id = %s",
            text,
            digest,
            last.pk,
        )
    [found] = breaks(Record.objects.all())
    assert (found.sequence, found.fault) == (4, "attachments")


@pytest.mark.parametrize("microsecond", [0, 1, 120_000, 999_999])
def test_a_moment_of_any_fraction_is_found_as_it_was_written(
    engine: Engine, technician: Viewer, now: Any, microsecond: int
) -> None:
    done = entry(date(2026, 11, 20), hours=51_000)
    at = now.replace(microsecond=microsecond)
    changes.record_work(technician, engine, done, at=at)
    assert list(breaks(Record.objects.all())) == []
    with ledger_unprotected():
        later = at.replace(microsecond=(microsecond + 1) % 1_000_000)
        run(f"UPDATE {T} SET recorded_at = %s", str(later.replace(tzinfo=None)))
    [found] = breaks(Record.objects.all())
    assert found.fault == "columns"


# -- what only the heads tell


@pytest.mark.parametrize(
    ("act", "sequence"),
    [
        (lambda one, other: delete(keys(one)[3]), 4),
        (lambda one, other: [delete(key) for key in reversed(keys(one)[1:])], 4),
        (lambda one, other: [delete(key) for key in reversed(keys(one))], 4),
        (lambda one, other: rewrite_from(one, 2, "much wear"), 4),
    ],
)
def test_a_cut_or_rewritten_chain_is_told_by_the_heads(
    ledgers: tuple[Engine, Engine],
    now: Any,
    act: Callable[[Engine, Engine], Any],
    sequence: int,
) -> None:
    heads = read_heads(written_heads(now))
    assert list(lost_heads(heads)) == []
    with ledger_unprotected():
        act(*ledgers)
    assert list(breaks(Record.objects.all())) == [], "the chain alone does not tell"
    [found] = lost_heads(heads)
    assert (found.engine, found.sequence) == (str(ledgers[0]), sequence)


def test_heads_still_stand_after_records_were_added(
    ledgers: tuple[Engine, Engine], technician: Viewer, now: Any
) -> None:
    heads = read_heads(written_heads(now))
    done = entry(date(2026, 11, 21), hours=51_000, description="More.")
    changes.record_work(technician, ledgers[0], done, at=now)
    assert list(lost_heads(heads)) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda said: said["heads"].pop(), "was changed after it was written"),
        (lambda said: said["heads"][0].update(sequence=3), "was changed after"),
        (lambda said: said.update(form="other"), "is no file of heads"),
    ],
)
def test_a_file_of_heads_that_was_changed_is_refused(
    ledgers: tuple[Engine, Engine], now: Any, change: Callable[[Any], Any], said: str
) -> None:
    written = json.loads(written_heads(now))
    change(written)
    with pytest.raises(HeadsRefused, match=said):
        read_heads(json.dumps(written))


# -- what only the files tell


@pytest.mark.parametrize("act", ["a byte", "gone"])
def test_a_file_that_is_lost_or_changed_is_told(
    ledgers: tuple[Engine, Engine], tmp_path: Path, act: str
) -> None:
    assert list(lost_files(Record.objects.all())) == []
    [path] = tmp_path.rglob("*.jpg")
    if act == "gone":
        path.unlink()
    else:
        path.write_bytes(PHOTO.content.replace(b"photo", b"phota"))
    found = list(lost_files(Record.objects.all()))
    # Both engines have the same photograph, which lies there once.
    assert [(one.engine, one.sequence) for one in found] == [
        (str(engine), 2) for engine in ledgers
    ]


# -- the commands


def test_the_commands_write_and_hold_against_heads(
    ledgers: tuple[Engine, Engine], tmp_path: Path, capsys: Any
) -> None:
    file = tmp_path / "heads.json"
    call_command("export_heads", str(file))
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_heads", str(file))
    call_command("verify_ledger", heads=str(file), attachments=True)
    assert "8 records, every chain is whole." in capsys.readouterr().out
    with ledger_unprotected():
        delete(keys(ledgers[0])[3])
    with pytest.raises(SystemExit) as left:
        call_command("verify_ledger", heads=str(file))
    assert left.value.code == 1
    assert "record 4: it was the head of the chain" in capsys.readouterr().out
    file.write_text("{}")
    with pytest.raises(CommandError, match="no file of heads") as refused:
        call_command("verify_ledger", heads=str(file))
    assert refused.value.returncode == 2

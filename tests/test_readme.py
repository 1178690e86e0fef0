"""What README.md says is true: its table of variables, its example, its links."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from notices.management.commands.evaluate import SCHEMAS
from notices.questions import QUESTIONS, answer
from notices.rules.errors import RuleError
from tracker.environment import KNOWN

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_table_of_variables_is_what_the_settings_read() -> None:
    table = set(re.findall(r"^\| `(TRACKER_[A-Z_]+)` \|", README, flags=re.MULTILINE))
    assert table == KNOWN


def test_the_example_answers_as_it_is_printed() -> None:
    example = re.search(r"\$ echo '(.+)' \\\n.*evaluate\n\s+(.+)\n", README)
    assert example is not None
    question, answer = example.groups()
    ran = subprocess.run(  # our own command with our own example
        [sys.executable, "manage.py", "evaluate"],
        input=question,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    assert ran.stdout.strip() == answer.strip()


def test_there_is_an_example_of_each_question_and_it_is_answered() -> None:
    examples = [
        json.loads(line) for line in re.findall(r"^    (\{.+\})$", README, re.MULTILINE)
    ]
    asked = [one for one in examples if not one.keys() & {"outcome"}]
    assert [next(iter(one)) for one in asked] == list(QUESTIONS)
    for question in asked:
        assert "id" in answer(question)


def test_the_keys_of_each_question_are_those_that_it_takes() -> None:
    rows = re.findall(r"^\| `(\w+)` \| (.+) \| (.+) \|$", README, re.MULTILINE)
    told = {kind: (needed, other) for kind, needed, other in rows if kind in QUESTIONS}
    assert list(told) == list(QUESTIONS)
    for kind, (needed, other) in told.items():
        keys = _quoted(needed) | _quoted(other.partition(", and")[0])
        with pytest.raises(RuleError) as refused:
            answer({kind: {"nothing": 1}})
        fault = next(one for one in refused.value.faults if "nothing" in one.path)
        assert set(re.findall(r'"(\w+)"', fault.message)) - {"nothing"} == keys
        others = [one for one in refused.value.faults if one is not fault]
        said = "\n".join(map(str, others))
        lacking = re.findall(r'"(\w+)" is missing|^\w+\.(\w+):', said, re.MULTILINE)
        assert {one or other for one, other in lacking} == _quoted(needed)


def _quoted(cell: str) -> set[str]:
    return set(re.findall(r"`(\w+)`", cell))


def test_every_schema_that_there_is_is_named() -> None:
    assert re.findall(r"--schema (\w+)", README) == list(SCHEMAS)


def test_every_command_that_is_named_exists() -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS))
    ran = subprocess.run(  # our own command
        [sys.executable, "manage.py", "help", "--commands"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    assert named <= set(ran.stdout.split())


def test_every_path_on_the_map_exists() -> None:
    paths = re.findall(r"`((?:notices|tracker|tests|fixtures)/[\w/.]*)`", DEVELOPERS)
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []

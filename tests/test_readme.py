"""What README.md says is true: its table of variables, its example, its links."""

import re
import subprocess
import sys
from pathlib import Path

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

"""The core can be imported where there is no Django."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for package in ("rules", "reading")
    for path in (ROOT / "notices" / package).rglob("*.py")
)

ALONE = """
import sys
for name in ("django", "rest_framework", "celery"):
    sys.modules[name] = None
import importlib
for module in sys.argv[1:]:
    importlib.import_module(module)
print(len(sys.argv) - 1)
"""


def test_every_module_of_the_core_imports_without_a_framework() -> None:
    done = subprocess.run(  # noqa: S603 - our own interpreter and names
        [sys.executable, "-c", ALONE, *MODULES],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stderr == ""
    assert done.stdout.strip() == str(len(MODULES))


@pytest.mark.parametrize("name", ["notices.rules.evaluate", "notices.rules.facts"])
def test_the_core_is_among_what_is_imported(name: str) -> None:
    assert name in MODULES


def imported(path: Path) -> Iterator[str]:
    """Yield the packages that a module imports."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module.split(".")[0]


RULES = sorted((ROOT / "notices" / "rules").rglob("*.py"))


@pytest.mark.parametrize("path", RULES, ids=lambda path: path.stem)
def test_the_rules_need_the_standard_library_alone_and_columns_arrays(
    path: Path,
) -> None:
    allowed = {"numpy"} if path.name == "columns.py" else set()
    foreign = set(imported(path)) - sys.stdlib_module_names - {"notices"}
    assert foreign == allowed

"""The core can be imported where there is no Django."""

from __future__ import annotations

import subprocess
import sys
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

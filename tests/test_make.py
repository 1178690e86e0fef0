"""The files that start the service: what they name must exist."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import get_commands

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def compose() -> dict[str, Any]:
    text = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
    parsed: dict[str, Any] = yaml.safe_load(text)
    return parsed


def test_compose_runs_every_process_of_the_larger_form(
    compose: dict[str, Any],
) -> None:
    ours = {"web", "worker", "beat", "sender"}
    assert set(compose["services"]) == ours | {"database", "queue"}


def test_the_queue_keeps_what_it_was_given(compose: dict[str, Any]) -> None:
    """What a broker evicts or forgets at its end is a task that nobody does."""
    command = compose["services"]["queue"]["command"]
    assert "--appendonly yes" in command
    assert "--maxmemory-policy noeviction" in command


def test_commands_of_compose_exist(compose: dict[str, Any]) -> None:
    commands = {
        one["command"] for one in compose["services"].values() if "command" in one
    }
    named = re.findall(r"manage\.py (\w+)", " ".join(commands))
    assert {"migrate", "deliver"} <= set(named)
    assert set(named) <= set(get_commands())


def test_every_service_says_how_its_health_is_seen(compose: dict[str, Any]) -> None:
    for name, service in compose["services"].items():
        assert service["healthcheck"]["test"][0] in {"CMD", "CMD-SHELL"}, name


def test_a_service_waits_only_for_services_that_exist(compose: dict[str, Any]) -> None:
    services = compose["services"]
    for name, service in services.items():
        for other, how in service.get("depends_on", {}).items():
            assert other in services, name
            assert how == {"condition": "service_healthy"}


def test_the_image_copies_only_what_the_tree_has(compose: dict[str, Any]) -> None:
    build = compose["services"]["web"]["build"]
    copied = re.findall(r"^COPY (\S+) ", build["dockerfile_inline"], re.MULTILINE)
    assert copied
    assert [name for name in copied if not (ROOT / name).exists()] == []
    assert not (ROOT / "Dockerfile").exists()


def test_every_variable_of_compose_is_read_by_the_settings(
    compose: dict[str, Any],
) -> None:
    settings = (ROOT / "tracker" / "settings.py").read_text(encoding="utf-8")
    named = compose["services"]["web"]["environment"]
    assert [name for name in named if f'"{name}"' not in settings] == []


def test_every_volume_that_is_mounted_is_declared(compose: dict[str, Any]) -> None:
    mounted = {
        mount.split(":")[0]
        for service in compose["services"].values()
        for mount in service.get("volumes", [])
    }
    assert mounted == set(compose["volumes"])


def test_the_makefile_runs_only_scripts_that_exist() -> None:
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    scripts = re.findall(r"(?<![\w/])\.ci/[\w-]+", text)
    assert scripts
    for script in scripts:
        assert (ROOT / script).stat().st_mode & 0o111, script


def test_the_demo_is_served_where_it_says_it_is() -> None:
    told = subprocess.run(
        ["make", "--dry-run", "demo", "PORT=8123"],  # noqa: S607 - as it is typed
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "--bind 127.0.0.1:8123 " in told
    address = re.search(
        r"^demo: export TRACKER_BASE_URL = (.*)$",
        (ROOT / "Makefile").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    assert address is not None
    assert address[1] == "http://127.0.0.1:$(PORT)"


def test_the_locks_carry_hashes_and_no_index_address() -> None:
    for name in ("requirements.txt", "requirements-dev.txt"):
        text = (ROOT / name).read_text(encoding="utf-8")
        assert "--hash=sha256:" in text
        assert "://" not in text
        assert "index-url" not in text

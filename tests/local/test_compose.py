"""docker-compose.yml and the Dockerfile say what the rest of the project says. No container is started here."""

import re
import shlex
from typing import Any

import pytest
import yaml

from intake.local import commands
from tests.local.alone import FOLDER

OURS = ("web", "worker", "beat", "migrate")


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    return yaml.safe_load((FOLDER / "docker-compose.yml").read_text())


@pytest.fixture(scope="module")
def dockerfile() -> str:
    return (FOLDER / "Dockerfile").read_text().replace("\\\n", " ")


def as_in_a_container(command: list[str]) -> list[str]:
    return ["python", *command[1:]]


def test_the_commands_are_those_that_run_on_one_computer(compose: dict[str, Any]) -> None:
    services = compose["services"]
    expected = {
        "web": commands.web("0.0.0.0:8000"),
        "worker": commands.worker("worker"),
        "beat": commands.beat(),
        "migrate": commands.manage("migrate", "--no-input"),
    }
    told = {name: shlex.split(services[name]["command"]) for name in expected}
    assert told == {name: as_in_a_container(command) for name, command in expected.items()}


def test_an_image_without_a_command_is_the_web_server(dockerfile: str) -> None:
    told = re.search(r"^CMD (\[.*\])$", dockerfile, re.MULTILINE)
    assert told
    assert yaml.safe_load(told[1]) == as_in_a_container(commands.web("0.0.0.0:8000"))


def test_every_service_that_runs_on_is_watched(compose: dict[str, Any]) -> None:
    watched = {name for name, service in compose["services"].items() if "healthcheck" in service}
    assert watched == {"web", "worker", "beat", "postgres", "redis"}
    for part in ("web", "worker", "beat"):
        assert compose["services"][part]["healthcheck"]["test"][-2:] == ["healthy", part]


def test_nothing_that_must_last_lies_inside_a_container(compose: dict[str, Any], dockerfile: str) -> None:
    named = set(compose["volumes"])
    for service in OURS:
        mounts = dict(mount.split(":") for mount in compose["services"][service]["volumes"])
        assert mounts.keys() <= named
        for setting in ("VAR_DIR", "PRIMARY_STORE", "REPLICA_STORE"):
            path = re.search(rf"\b{setting}=(\S+)", dockerfile)
            assert path is not None
            assert path[1] in mounts.values(), f"{setting} of {service} is not on a volume"
    assert "postgres" in named


def test_the_static_files_of_an_image_are_not_hidden_by_a_volume(compose: dict[str, Any], dockerfile: str) -> None:
    static = re.search(r"\bSTATIC_ROOT=(\S+)", dockerfile)
    assert static
    mounts = [mount.split(":")[1] for mount in compose["services"]["web"]["volumes"]]
    assert not any(static[1] == mount or static[1].startswith(f"{mount}/") for mount in mounts)


def test_the_site_waits_for_its_database(compose: dict[str, Any]) -> None:
    services = compose["services"]
    assert services["migrate"]["depends_on"]["postgres"]["condition"] == "service_healthy"
    for name in ("web", "worker", "beat"):
        assert services[name]["depends_on"]["migrate"]["condition"] == "service_completed_successfully"


def test_the_site_does_not_run_as_root(dockerfile: str) -> None:
    users = re.findall(r"^USER (\S+)$", dockerfile, re.MULTILINE)
    assert users == ["intake"]


def test_the_image_takes_in_files_that_are_there(dockerfile: str) -> None:
    taken = [line.split()[1:-1] for line in re.findall(r"^COPY (?!--from).*$", dockerfile, re.MULTILINE)]
    for name in [name for names in taken for name in names]:
        assert (FOLDER / name).exists(), name


def test_no_secret_and_no_history_gets_into_the_image() -> None:
    left_out = (FOLDER / ".dockerignore").read_text().split()
    assert {".env", ".git", "var"} <= set(left_out)

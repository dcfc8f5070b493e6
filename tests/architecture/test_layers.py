"""A folder may import only what is below it, and foreign keys follow the same order."""

import subprocess
import sys
import tomllib
from pathlib import Path

from django.apps import apps

from tests.architecture.source import ROOT, files_under, imports_in

CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]


def layers() -> list[list[str]]:
    """The folders of intake from the top down; those in one list stand beside each other."""
    (layered,) = [contract for contract in CONTRACTS if contract["type"] == "layers"]
    return [line.split(" | ") for line in layered["layers"]]


def level_of(folder: str) -> int:
    """How far from the top."""
    (level,) = [level for level, folders in enumerate(layers()) if folder in folders]
    return level


def our_models():
    return [model for model in apps.get_models() if model.__module__.startswith("intake.")]


def test_the_import_contracts_are_kept():
    checker = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([checker, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    assert f"Contracts: {len(CONTRACTS)} kept, 0 broken." in done.stdout


def test_foreign_keys_point_down():
    """Keys named by strings and AUTH_USER_MODEL are invisible to the import contracts."""
    upward = [
        f"{model._meta.label}.{field.name} -> {field.related_model._meta.label}"
        for model in our_models()
        for field in model._meta.get_fields()
        if field.is_relation and not field.auto_created and field.related_model in our_models()
        if level_of(model._meta.app_label) > level_of(field.related_model._meta.app_label)
    ]
    assert upward == []


def test_there_are_foreign_keys_to_look_at():
    """A walk that finds nothing would always pass."""
    found = [field for model in our_models() for field in model._meta.get_fields() if field.many_to_one]
    assert len(found) > 20


def test_every_app_with_models_has_its_layer():
    known = {folder for line in layers() for folder in line}
    assert {model._meta.app_label for model in our_models()} <= known


def test_requests_and_pages_are_known_to_the_sites_alone():
    """Services never see a request. The demo's page of sent mail is no part of the sites."""
    of_the_sites = ("django.http", "django.shortcuts", "django.contrib.messages", "django.template.response")
    folders = ("portal", "narrator", "desk", "harvest", "web")
    sites = (*(f"intake/{folder}/" for folder in folders), "intake/local/views.py")
    wrong = [
        f"{path}: {name}"
        for path in files_under("intake", "audio_qc")
        if not path.startswith(sites)
        for name in imports_in(path)
        if name.startswith(of_the_sites)
    ]
    assert wrong == []


def test_celery_is_imported_in_two_places_alone():
    users = {path for path in files_under("intake") for name in imports_in(path) if name.split(".")[0] == "celery"}
    assert users == {"intake/celery.py", "intake/jobs/tasks.py"}

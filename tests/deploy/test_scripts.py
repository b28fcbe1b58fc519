"""Promises about the scripts and the lock files."""

import ast
import importlib.metadata
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = [ROOT / "deploy" / name for name in ("requirements.lock", "requirements-test.lock")]
SCRIPTS = [*sorted((ROOT / "deploy").glob("*.sh")), ROOT / ".ci" / "run"]


def locked(file: Path) -> dict[str, str]:
    return dict(re.findall(r"^([a-z0-9._-]+)==([^\s;\\]+)", file.read_text(), flags=re.M))


@pytest.mark.parametrize("file", SCRIPTS, ids=lambda file: file.name)
def test_every_script_is_plain_sh(file):
    subprocess.run(["sh", "-n", str(file)], check=True)


def test_the_run_of_the_checks_starts_test_sh_and_skips_nothing():
    run = ROOT / ".ci" / "run"

    assert os.access(run, os.X_OK)
    assert "CI=true exec sh deploy/test.sh </dev/null" in run.read_text()


@pytest.mark.parametrize("file", LOCKS, ids=lambda file: file.name)
def test_a_lock_file_names_a_hash_for_everything_and_an_address_for_nothing(file):
    text = file.read_text()
    entries = re.split(r"\n(?=[a-z0-9])", text)[1:]

    assert entries
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", entry) for entry in entries)
    assert not re.search(r"https?://|file:|--(extra-)?index-url|--find-links|\s@\s", text)


def test_both_lock_files_name_the_same_versions():
    plain, tested = map(locked, LOCKS)

    assert plain.items() <= tested.items()


def test_the_site_imports_nothing_that_only_tests_install():
    """On a machine that only runs the site, what tests need is not there."""
    plain = {re.sub(r"[-_.]+", "-", name) for name in locked(LOCKS[0])}
    homes = importlib.metadata.packages_distributions()
    imported = {
        (alias.name if isinstance(node, ast.Import) else node.module or "").partition(".")[0]
        for file in (ROOT / "kitshare").rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Import) or (isinstance(node, ast.ImportFrom) and not node.level)
        for alias in node.names
    }
    foreign = imported - sys.stdlib_module_names - {"kitshare"}

    assert "django" in foreign
    for module in foreign:
        assert {re.sub(r"[-_.]+", "-", home.lower()) for home in homes[module]} & plain, module

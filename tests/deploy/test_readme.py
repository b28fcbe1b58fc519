"""Every command in README.md is run here, and README.md has no command that is not."""

import inspect
import os
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.deploy import test_try
from tests.deploy.test_try import ROOT, bare, environment, ready, run, tools

__all__ = ["bare", "ready", "tools"]

# How each command is run here: as it is, or cut short where it would take long.
SITE = "as a site that is started, set aside and started afresh: with that of the demonstration"
COMMANDS = {
    "sh deploy/try.sh": test_try.test_the_demonstration_is_kept_and_set_aside_only_when_asked,
    "sh deploy/try.sh --help": "as it is",
    "sh deploy/try.sh --smoke": "as it is",
    "sh deploy/try.sh --port 8010 --fresh": SITE,
    "sh deploy/try.sh --empty": test_try.test_an_empty_site_leads_to_its_first_page_and_a_second_start_is_quick,
    "sh deploy/test.sh": "with one quick test",
    "sh deploy/bench.sh": "with few bookings and rounds",
    ".venv/bin/python manage.py tick": "on an empty site",
    ".venv/bin/python manage.py backup --keep 14": "on the same",
    ".venv/bin/python manage.py restore --check .data/backups/kitshare-20271030-230000.zip": "with the file just made",
    ".venv/bin/python manage.py restore .data/backups/kitshare-20271030-230000.zip": "with the file just made, elsewhere",
}


def commands_of_the_readme() -> list[str]:
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    return [line.strip() for block in blocks for line in block.splitlines() if line.strip()]


def test_the_readme_has_exactly_the_commands_that_are_run_here():
    assert sorted(commands_of_the_readme()) == sorted(COMMANDS)


@pytest.mark.parametrize("command", [command for command, how in COMMANDS.items() if inspect.isfunction(how)])
def test_a_command_that_another_test_runs_is_run_there_as_it_stands(command):
    options = "".join(f', "{option}"' for option in command.removeprefix("sh deploy/try.sh").split())

    assert f"Site(ready{options}, env=env) as first" in inspect.getsource(COMMANDS[command])


def test_help_and_the_walk(ready, tools, tmp_path):
    env = environment(tools, TMPDIR=str(tmp_path))

    helped = run(ready, "--help", env=env)
    walked = run(ready, "--smoke", env=env)

    assert helped.returncode == 0
    assert walked.returncode == 0, walked.stdout + walked.stderr
    assert "12 steps went through." in walked.stdout


def in_the_project(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a command in the project's own folder, with the Python that runs this test first on the way."""
    place = f"{Path(sys.executable).parent}:{os.environ['PATH']}"
    given = {**os.environ, "PATH": place, **more}
    return subprocess.run(words, env=given, cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)


def test_one_round_of_due_work_by_hand_a_backup_and_a_bad_day(tmp_path):
    clean, other = (
        {"KITSHARE_DATA": str(tmp_path / name), "DATABASE_URL": f"sqlite:///{tmp_path}/{name}/kitshare.sqlite3"}
        for name in ("data", "other")
    )
    (tmp_path / "data").mkdir()
    in_the_project(sys.executable, "manage.py", "migrate", "--verbosity", "0", **clean)

    done = in_the_project(sys.executable, "manage.py", "tick", **clean)

    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Reminders written: 0.")

    with closing(sqlite3.connect(tmp_path / "data" / "kitshare.sqlite3")) as there:
        there.execute("INSERT INTO logbook_entry (at, by_name, deed, text) VALUES ('2027-10-30', 'one', 'one', 'One.')")
        there.commit()
    made = in_the_project(sys.executable, "manage.py", "backup", "--keep", "14", **clean)
    assert made.returncode == 0, made.stderr
    (file,) = (tmp_path / "data" / "backups").iterdir()
    told = in_the_project(sys.executable, "manage.py", "restore", "--check", str(file), **clean)
    assert "its database has just these rows" in told.stdout, told.stderr
    filled = in_the_project(sys.executable, "manage.py", "restore", str(file), **other)
    assert filled.stdout.startswith("Restored as of "), filled.stderr


def test_the_tests_run_by_their_script(ready, tools):
    quick = run(ready, str(ROOT / "tests/rules/test_units.py"), "-q", env=environment(tools), name="test.sh")

    assert quick.returncode == 0, quick.stdout + quick.stderr
    assert re.search(r"\d+ passed", quick.stdout)


def test_the_figures_are_measured_by_their_script(tmp_path):
    """What bench.sh runs, at its smallest: every page and floor answers, and each line has a ratio."""
    done = in_the_project(sys.executable, "-m", "tests.bench.pages", "--sizes", "12", "--rounds", "2")

    assert done.returncode == 0, done.stdout + done.stderr
    assert len(re.findall(r"^(home|season|bookings|a booking) +12 .*\d\.\d\d$", done.stdout, re.MULTILINE)) == 4


def test_the_growth_of_the_book_is_measured_by_its_script():
    """The rest of what bench.sh runs, at its smallest: each question has its line, and what was not run is said."""
    few = ("--sizes", "90", "--rounds", "2")
    done = in_the_project(sys.executable, "-m", "tests.bench.days", *few, DATABASE_URL="")

    assert done.returncode == 0, done.stdout + done.stderr
    assert len(re.findall(r"^sqlite .* ratio 1\.00$", done.stdout, re.MULTILINE)) == 4
    assert "Not run: PostgreSQL" in done.stdout

"""`deploy/try.sh` on machines that lack something: one clear sentence each, and never a traceback."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOOLS = [
    "sh",
    "dirname",
    "cat",
    "mkdir",
    "rm",
    "mv",
    "df",
    "awk",
    "cksum",
    "grep",
    "tail",
    "date",
    "mktemp",
    "sed",
    "sleep",
    "kill",
]


def script(file: Path, text: str) -> Path:
    file.write_text(f"#!/bin/sh\n{text}\n")
    file.chmod(0o755)
    return file


@pytest.fixture
def tools(tmp_path) -> Path:
    """A folder for PATH with the plain tools of any machine, and no Python."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for name in TOOLS:
        if found := shutil.which(name):
            (folder / name).symlink_to(found)
    return folder


@pytest.fixture
def bare(tmp_path, tools) -> Path:
    """The project's folder as it is fetched: nothing installed yet."""
    folder = tmp_path / "project"
    folder.mkdir()
    for name in ("kitshare", "templates", "manage.py"):
        (folder / name).symlink_to(ROOT / name)
    shutil.copytree(ROOT / "deploy", folder / "deploy")
    return folder


@pytest.fixture
def ready(bare) -> Path:
    """The project's folder after a first start: .venv is there, and its stamp."""
    (bare / ".venv" / "bin").mkdir(parents=True)
    script(bare / ".venv" / "bin" / "python", f'exec {sys.executable} "$@"')
    for lock in ("requirements.lock", "requirements-test.lock"):
        with (bare / "deploy" / lock).open() as file:
            summed = subprocess.run(["cksum"], stdin=file, capture_output=True, text=True, check=True).stdout
        (bare / ".venv" / f"stamp-{lock}").write_text(summed)
    return bare


def environment(tools: Path, **more: str) -> dict[str, str]:
    return {"PATH": str(tools), "HOME": str(tools.parent), "PIP_CONFIG_FILE": os.devnull} | more


def run(folder: Path, *options: str, env: dict[str, str], name: str = "try.sh") -> subprocess.CompletedProcess[str]:
    words = ["sh", str(folder / "deploy" / name), *options]
    return subprocess.run(words, env=env, capture_output=True, text=True, check=False, timeout=120, cwd=folder)


def one_sentence(done: subprocess.CompletedProcess[str]) -> str:
    """What it said when it stopped: one line, and no traceback."""
    assert done.returncode == 1, done.stdout
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, done.stderr
    assert "Traceback" not in done.stdout + done.stderr
    return lines[0]


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]


# What is asked for


def test_help_shows_every_option(bare, tools):
    done = run(bare, "--help", env=environment(tools))

    assert done.returncode == 0
    assert all(option in done.stdout for option in ("--port", "--fresh", "--empty", "--smoke", "KITSHARE_DATA"))


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--prot", "8010"], "There is no option --prot"),
        (["8010"], "There is no option 8010"),
        (["--port"], "After --port comes a number"),
        (["--port", "many"], '"many" is not'),
        (["--port", "0"], '"0" is not'),
        (["--port=65536"], '"65536" is not'),
        (["--port", "99999999999999999999"], "is not"),
        (["--port", ""], '"" is not'),
    ],
)
def test_an_option_that_makes_no_sense_is_refused_before_anything_happens(bare, tools, options, sentence):
    assert sentence in one_sentence(run(bare, *options, env=environment(tools)))
    assert not (bare / ".venv").exists()


# What a machine may lack


def test_no_python(bare, tools):
    assert "no python3 was found" in one_sentence(run(bare, env=environment(tools)))


def test_an_old_python(bare, tools):
    script(tools / "python3", 'case "$*" in *sys.exit*) exit 1 ;; *) echo 3.9 ;; esac')

    assert "Python 3.11 or newer is needed, and this machine has 3.9" in one_sentence(run(bare, env=environment(tools)))


def test_a_newer_python_beside_an_old_one_is_found(bare, tools):
    script(tools / "python3", 'case "$*" in *sys.exit*) exit 1 ;; *) echo 3.9 ;; esac')
    script(tools / "python3.12", f'case "$*" in *ensurepip*) exit 1 ;; *) exec {sys.executable} "$@" ;; esac')

    assert "cannot put pip" in one_sentence(run(bare, env=environment(tools)))  # so it went on with that one


@pytest.mark.parametrize(
    ("lacks", "sentence"), [("venv", "has no venv module"), ("ensurepip", "cannot put pip into a virtual environment")]
)
def test_a_python_without_a_module(bare, tools, lacks, sentence):
    script(tools / "python3", f'case "$*" in *"import {lacks}"*) exit 1 ;; *) exec {sys.executable} "$@" ;; esac')

    assert sentence in one_sentence(run(bare, env=environment(tools)))


def test_a_virtual_environment_without_pip(bare, tools):
    leave_out = f'[ "$2" = venv ] && shift 2 && exec {sys.executable} -m venv --without-pip "$@"'
    script(tools / "python3", f'{leave_out}\nexec {sys.executable} "$@"')

    assert "has no pip" in one_sentence(run(bare, env=environment(tools)))


def test_no_network_for_pip(bare, tools):
    (tools / "python3").symlink_to(Path(sys.base_prefix) / "bin" / "python3")
    nowhere = environment(tools, PIP_INDEX_URL="http://127.0.0.1:9/simple", PIP_NO_CACHE_DIR="1")

    assert "the package index cannot be reached" in one_sentence(run(bare, env=nowhere))
    assert not list((bare / ".venv").glob("stamp-*"))


def test_a_port_in_use(ready, tools, tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = run(ready, "--port", port, env=environment(tools, KITSHARE_DATA=str(tmp_path / "data")))

    assert f"Port {port} is in use by another program" in one_sentence(done)


def test_a_data_folder_that_cannot_be_written(ready, tools):
    done = run(ready, "--port", str(free_port()), env=environment(tools, KITSHARE_DATA="/dev/null/data"))

    assert "The folder /dev/null/data cannot be written" in one_sentence(done)


@pytest.fixture
def small_disk(tmp_path):
    """A disk of one megabyte, where this machine lets us make one."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(folder)], check=False)
    if mounted.returncode:
        pytest.skip("may not mount a small disk here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.skipif(not shutil.which("mount") or os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_is_nearly_full(ready, tools, small_disk):
    done = run(ready, "--port", str(free_port()), env=environment(tools, KITSHARE_DATA=str(small_disk)))

    assert "MB are free in" in one_sentence(done)


@pytest.mark.skipif(not shutil.which("mount") or os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_is_quite_full(ready, tools, small_disk):
    with pytest.raises(OSError, match="No space left"):
        (small_disk / "full").write_bytes(b"\0" * 2_000_000)

    done = run(ready, "--port", str(free_port()), env=environment(tools, KITSHARE_DATA=str(small_disk / "data")))

    assert "free some room" in one_sentence(done)


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        ("OSError: [Errno 28] No space left on device", "the disk is full"),
        ("django.db.utils.OperationalError: database or disk is full", "the disk is full"),
        ("django.db.utils.OperationalError: attempt to write a readonly database", "a folder cannot be written"),
        ("ValueError: something else", "ValueError: something else (the full story is in"),
    ],
)
def test_what_goes_wrong_half_way_is_one_sentence_too(ready, tools, tmp_path, error, sentence):
    script(
        ready / ".venv" / "bin" / "python",
        f'case "$*" in *set_up*) echo "Traceback: ..."; echo "{error}" >&2; exit 1 ;; *) exec {sys.executable} "$@" ;; esac',
    )

    done = run(ready, "--port", str(free_port()), env=environment(tools, KITSHARE_DATA=str(tmp_path / "data")))

    assert one_sentence(done).startswith("The data could not be prepared: ")
    assert sentence in one_sentence(done)


# A site that runs


class Site:
    """A running `deploy/try.sh`, and what it has said."""

    def __init__(self, folder: Path, *options: str, env: dict[str, str]) -> None:
        self.port = free_port()
        self.began = time.monotonic()
        words = ["sh", str(folder / "deploy" / "try.sh"), "--port", str(self.port), *options]
        self.process = subprocess.Popen(words, env=env, cwd=folder, stdout=subprocess.PIPE, text=True)

    def __enter__(self) -> "Site":
        until = time.monotonic() + 60
        while time.monotonic() < until and self.process.poll() is None:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/", timeout=5) as answer:
                    self.went_to = answer.url
                    break
            except urllib.error.HTTPError as answer:
                self.went_to = answer.url
                answer.close()
                break
            except OSError:
                time.sleep(0.1)
        self.seconds_to_start = time.monotonic() - self.began
        return self

    def __exit__(self, *_exception: object) -> None:
        self.process.send_signal(signal.SIGTERM)
        self.said = self.process.communicate(timeout=30)[0]


def test_an_empty_site_leads_to_its_first_page_and_a_second_start_is_quick(ready, tools, tmp_path):
    env = environment(tools, KITSHARE_DATA=str(tmp_path / "data"))
    with Site(ready, "--empty", env=env) as first:
        assert first.went_to.endswith("/scheme/first-run/")
    with Site(ready, "--empty", env=env) as second:
        pass
    quickest = second.seconds_to_start
    if quickest >= 10:  # the machine may have been busy with something else: once more
        with Site(ready, "--empty", env=env) as third:
            quickest = third.seconds_to_start

    assert f"Open http://127.0.0.1:{first.port}" in first.said
    assert "the first page makes one" in first.said
    assert first.process.returncode == second.process.returncode == 0
    assert quickest < 10


def test_the_demonstration_is_kept_and_set_aside_only_when_asked(ready, tools, tmp_path):
    data = tmp_path / "data"
    env = environment(tools, KITSHARE_DATA=str(data))
    with Site(ready, env=env) as first:
        assert first.went_to.endswith("/people/sign-in/?next=/")
    before = (data / "secret-key").read_text()
    with Site(ready, "--empty", env=env) as second:
        pass
    with Site(ready, "--fresh", "--empty", env=env) as third:
        assert third.went_to.endswith("/scheme/first-run/")

    for who in ("perpetua@example.org", "sunniva@example.org", "teodor@example.org", "linnow-apples"):
        assert who in first.said
    assert "--empty left it alone" in second.said
    assert "is now in" in third.said
    assert f"Open http://127.0.0.1:{third.port}" in third.said
    assert len(list(data.glob("set-aside-*/kitshare.sqlite3"))) == 1
    assert (data / "secret-key").read_text() == before


def test_fresh_leaves_a_database_elsewhere_alone(ready, tools, tmp_path):
    env = environment(
        tools, KITSHARE_DATA=str(tmp_path / "data"), DATABASE_URL="postgres://nobody@127.0.0.1:9/kitshare"
    )

    assert "DATABASE_URL names a database elsewhere" in one_sentence(run(ready, "--fresh", env=env))

"""`manage.py serve` with real processes: what dies is started again, and nothing stays behind."""

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

from kitshare.serving.keeper import LONGEST_WAIT, SECONDS_WELL, Child

ROOT = Path(__file__).resolve().parents[2]
MANAGE = [sys.executable, "manage.py"]


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]


def children_of(pid: int) -> list[int]:
    try:
        listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except FileNotFoundError:
        return []
    own = [int(child) for child in listed]
    return own + [grandchild for child in own for grandchild in children_of(child)]


def command_of(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    except FileNotFoundError:
        return ""


def is_alive(pid: int) -> bool:
    try:
        return ") Z " not in Path(f"/proc/{pid}/stat").read_text()
    except FileNotFoundError:
        return False


def wait_for(claim, seconds=30.0):
    """What the claim says once it says something, or nothing when the time is over."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if found := claim():
            return found
        time.sleep(0.1)
    return None


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """A data folder with an empty site in it, made once: each test takes a copy."""
    folder = tmp_path_factory.mktemp("prepared")
    for command in (["migrate", "-v0"], ["collectstatic", "--noinput", "-v0"]):
        subprocess.run([*MANAGE, *command], cwd=ROOT, env=environment_for(folder), check=True)
    return folder


def environment_for(folder) -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name != "DATABASE_URL"} | {
        "KITSHARE_DATA": str(folder)
    }


@pytest.fixture
def site(prepared, tmp_path):
    """A running site on a free port, with a data folder of its own."""
    shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)
    environment = environment_for(tmp_path)
    port = free_port()
    words = ["serve", "--port", str(port), "--workers", "1", "--every", "1"]
    process = subprocess.Popen([*MANAGE, *words], cwd=ROOT, env=environment, stderr=subprocess.PIPE, text=True)
    process.port, process.environment = port, environment
    yield process
    family = children_of(process.pid)
    process.kill()
    process.wait()
    process.stderr.close()
    for pid in family:
        if is_alive(pid):
            os.kill(pid, signal.SIGKILL)


def answers(site) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{site.port}/", timeout=5) as answer:
            return answer.status == 200
    except urllib.error.HTTPError as answer:
        answer.close()
        return True
    except OSError:
        return False


def child_that_runs(site, word: str) -> int | None:
    return next((pid for pid in children_of(site.pid) if word in command_of(pid)), None)


def is_whole(site) -> bool:
    return bool(answers(site) and child_that_runs(site, "tick") and child_that_runs(site, "gunicorn"))


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="reads /proc")
class TestServe:
    @pytest.mark.parametrize("word", ["gunicorn", "tick"])
    def test_a_child_that_is_killed_is_started_again(self, site, word):
        assert wait_for(lambda: is_whole(site))
        killed = child_that_runs(site, word)

        os.kill(killed, signal.SIGKILL)

        assert wait_for(lambda: child_that_runs(site, word) not in (None, killed) and answers(site))

    @pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
    def test_it_stops_cleanly_and_leaves_nobody_behind(self, site, number):
        assert wait_for(lambda: is_whole(site))
        family = children_of(site.pid)
        assert len(family) >= 3

        site.send_signal(number)

        assert site.wait(timeout=30) == 0
        assert not [pid for pid in family if is_alive(pid)]

    def test_the_children_stop_when_the_parent_is_killed_outright(self, site):
        assert wait_for(lambda: is_whole(site))
        family = children_of(site.pid)

        site.kill()

        assert wait_for(lambda: not [pid for pid in family if is_alive(pid)])

    def test_a_port_in_use_is_one_clear_sentence(self, site):
        assert wait_for(lambda: answers(site))

        second = subprocess.run(
            [*MANAGE, "serve", "--port", str(site.port)],
            cwd=ROOT,
            env=site.environment,
            capture_output=True,
            text=True,
            check=False,
        )

        assert second.returncode == 1
        assert second.stderr.strip().splitlines() == [
            f"CommandError: Port {site.port} is in use by another program: stop that one, or choose another with --port."
        ]


def test_a_child_that_keeps_dying_is_left_down_longer_each_time():
    child = Child("loop", ["false"], started=0)

    waits = [child.wait_after_death(now=1) for _death in range(8)]

    assert waits == [1, 3, 7, 15, 30, 30, 30, 30]
    assert max(waits) == LONGEST_WAIT


def test_a_child_that_was_well_for_a_minute_is_started_again_soon():
    child = Child("loop", ["false"], started=0, deaths=7)

    assert child.wait_after_death(now=SECONDS_WELL + 1) == 1

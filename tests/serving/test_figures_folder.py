"""The figures of several web processes: added up whoever is asked, and kept when one of them is gone."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.outbox.post_office import wait_until

pytestmark = pytest.mark.one_engine

# As the site counts and tells, without its pages; each answer names the process that gave it.
COUNTING = """
import os
from kitshare.watch.counting import count_answer, text_of_what_was_counted
def application(environ, start_response):
    if environ["PATH_INFO"] == "/metrics/":
        said = text_of_what_was_counted()
    else:
        count_answer(page="a page", status=200, seconds=0.2)
        said = str(os.getpid()).encode()
    start_response("200 OK", [("Content-Length", str(len(said)))])
    return [said]
"""


@pytest.fixture(params=["gunicorn_server", "gunicorn_settings"])
def server(request, tmp_path):
    """Two processes of gunicorn, as on a server and as under `manage.py serve`, after one that left its figures."""
    (tmp_path / "counting_site.py").write_text(COUNTING)
    folder = tmp_path / "figures"
    folder.mkdir()
    (folder / "counter_1.db").write_bytes(b"of an earlier server")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ["--config", f"python:kitshare.serving.{request.param}", "--workers", "2", "--bind", f"127.0.0.1:{port}"]
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "gunicorn",
            *words,
            "--log-level",
            "error",
            "--pythonpath",
            str(tmp_path),
            "counting_site",
        ],
        env=os.environ | {"PROMETHEUS_MULTIPROC_DIR": str(folder)},
    )

    def ask(path: str) -> str:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=10) as answer:
            return answer.read().decode()

    yield ask, folder
    process.terminate()
    process.wait()


def told(ask) -> tuple[float, float]:
    """How many answers the figures tell of, and how many the histogram has in its buckets."""
    found = {
        (sample.name, sample.labels.get("le")): sample.value
        for family in text_string_to_metric_families(ask("/metrics/"))
        for sample in family.samples
    }
    return found["kitshare_answers_total", None], found["kitshare_answer_seconds_bucket", "+Inf"]


def test_figures_are_the_sum_of_all_processes_and_of_those_that_are_gone(server):
    ask, folder = server
    asked = 0

    def is_asked_by_two() -> bool:
        nonlocal asked
        try:
            seen.add(int(ask("/")))
        except OSError:
            time.sleep(0.1)
            return False
        asked += 1
        return len(seen) == 2

    for _kill in range(2):
        seen: set[int] = set()
        assert wait_until(is_asked_by_two)
        assert {told(ask) for _time in range(6)} == {(asked, asked)}  # whichever of them answers

        os.kill(gone := seen.pop(), signal.SIGKILL)
        assert wait_until(lambda gone=gone: not list(folder.glob(f"*_{gone}.db")))
        assert told(ask) == (asked, asked)
    assert sorted(file.name for file in folder.glob("*_gone.db")) == ["counter_gone.db", "histogram_gone.db"]

"""A web process that is told to leave: whoever knocked is answered, and nobody is let in and dropped."""

import http.client
import socket
import subprocess
import sys
import threading
import time

import pytest

pytestmark = pytest.mark.one_engine

SLOW = """
import time
def application(environ, start_response):
    time.sleep(float(environ["PATH_INFO"].strip("/")))
    start_response("200 OK", [("Content-Length", "4")])
    return [b"done"]
"""


def ask(port: int, seconds: float) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.connect()
    except ConnectionRefusedError:
        return "nobody there"
    try:
        connection.request("POST", f"/{seconds}", body=b"a form", headers={"Content-Type": "text/plain"})
        return connection.getresponse().read().decode()
    except (OSError, http.client.HTTPException) as error:
        return f"dropped: {type(error).__name__}"
    finally:
        connection.close()


def test_nobody_is_let_in_and_dropped(tmp_path):
    (tmp_path / "slow.py").write_text(SLOW)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "--config", "python:kitshare.serving.gunicorn_server", "slow"]
    options = ["--workers", "2", "--threads", "1", "--bind", f"127.0.0.1:{port}", "--log-level", "error"]
    server = subprocess.Popen([*command, *options, "--pythonpath", str(tmp_path)])
    heard: list[str] = []
    asking = [threading.Thread(target=lambda: heard.append(ask(port, 1.0))) for _person in range(6)]
    try:
        until = time.monotonic() + 20
        while ask(port, 0) != "done":
            assert time.monotonic() < until
            time.sleep(0.1)
        for person in asking:
            person.start()
        time.sleep(0.3)  # two are being answered, four wait

        server.terminate()
        late = []
        while server.poll() is None:
            late.append(ask(port, 0))
            time.sleep(0.02)
        for person in asking:
            person.join()
    finally:
        server.kill()
        server.wait()

    assert heard == ["done"] * 6
    assert set(late) <= {"done", "nobody there"}
    assert late[-1] == "nobody there"

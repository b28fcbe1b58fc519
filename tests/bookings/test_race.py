"""Many villages ask for one machine and one weekend at the same moment, on real connections."""

import json
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections import Counter
from pathlib import Path

import psycopg
import pytest
from django.db import connection

from tests.bookings import rivals
from tests.bookings.race import BACK_ON, OUT_ON, RACERS

pytestmark = pytest.mark.race

ROOT = Path(__file__).resolve().parents[2]
CSRF = "a" * 32


@pytest.fixture
def environment(tmp_path):
    """The environment of a site of its own, on the engine of this run, gone afterwards."""
    base = os.environ | {"KITSHARE_DATA": str(tmp_path / "data"), "PYTHONPATH": str(ROOT)}
    (tmp_path / "data").mkdir()
    if connection.vendor == "sqlite":
        yield base | {"DATABASE_URL": f"sqlite:///{tmp_path / 'race.sqlite3'}"}
        return
    name = f"kitshare_race_{os.getpid()}_{time.time_ns()}"
    server = os.environ["DATABASE_URL"]
    with psycopg.connect(server, autocommit=True, connect_timeout=5) as asked:
        asked.execute(f'CREATE DATABASE "{name}"')
    yield base | {"DATABASE_URL": urllib.parse.urlsplit(server)._replace(path=f"/{name}").geturl()}
    with psycopg.connect(server, autocommit=True) as asked:
        asked.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def race(word, environment, module="race"):
    done = subprocess.run(
        [sys.executable, "-m", f"tests.bookings.{module}", word],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_of_many_processes_at_once_exactly_one_wins_and_the_others_hear_who(environment):
    race("seed", environment)

    report = race("run", environment)

    assert Counter(report["ended"]) == {"won": 1, "told who has it": RACERS - 1}
    assert report["bookings"] == 1
    assert report["days"] == 3  # two days booked, one to clean and dry


def test_of_two_hundred_requests_among_moves_and_callings_off_no_day_is_promised_twice(environment):
    race("seed", environment, "rivals")

    report = race("run", environment, "rivals")

    ended = Counter(report["ended"])
    done = {"asked", "asked and called off", "moved", "agreed and called off", "nothing to agree"}
    assert set(ended) <= done | {"MachineTaken", "ChangedMeanwhile", "NotAtThisStage"}
    assert ended.total() == rivals.ASKERS * rivals.EACH_ASKS + rivals.MOVERS * rivals.EACH_MOVES * 2
    assert min(ended[how] for how in ("asked and called off", "moved", "agreed and called off", "MachineTaken")) > 0
    assert report["wrong"] == []


@pytest.fixture
def server(environment, tmp_path):
    """The site itself on a free port, with several processes; and who is signed in."""
    seeded = race("seed", environment)
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"], cwd=ROOT, env=environment, check=True
    )
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    log = (tmp_path / "server.log").open("w")
    command = [
        sys.executable,
        "-m",
        "gunicorn",
        "kitshare.wsgi",
        "-b",
        f"127.0.0.1:{port}",
        "-w",
        "4",
        "--threads",
        "8",
    ]
    process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=log)
    try:
        for _try in range(150):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.2)
        yield f"http://127.0.0.1:{port}", seeded
    finally:
        process.terminate()
        process.wait(timeout=20)
        log.close()


class StayHere(urllib.request.HTTPRedirectHandler):
    """A redirect is the answer that a winner gets."""

    def redirect_request(self, *_args, **_more):
        return None


def post(address, racer, machine, start, answers):
    fields = {
        "csrfmiddlewaretoken": CSRF,
        "for_whom": f"{racer['village']}-{racer['member']}",
        "machines": machine,
        "spell": "typed",
        "out_on": OUT_ON.isoformat(),
        "back_on": BACK_ON.isoformat(),
        "fruit_amount": "100",
        "fruit_unit": "kg",
        "key": f"7a0d7f1e-31b1-4c5e-9d6c-{racer['member']:012d}",
        "deed": "send",
    }
    request = urllib.request.Request(  # noqa: S310
        f"{address}/bookings/new/",
        data=urllib.parse.urlencode(fields).encode(),
        headers={"Cookie": f"sessionid={racer['session']}; csrftoken={CSRF}"},
    )
    start.wait()
    try:
        with urllib.request.build_opener(StayHere).open(request, timeout=120) as answer:
            answers.append((answer.status, answer.read().decode()))
    except urllib.error.HTTPError as answer:
        with answer:
            answers.append((answer.code, answer.read().decode()))


def test_of_many_forms_sent_at_once_one_is_booked_and_the_others_see_free_days(server):
    address, seeded = server
    start, answers = threading.Barrier(RACERS), []
    racers = [
        threading.Thread(target=post, args=(address, racer, seeded["machine"], start, answers))
        for racer in seeded["racers"]
    ]

    for racer in racers:
        racer.start()
    for racer in racers:
        racer.join(timeout=150)

    assert Counter(status for status, _text in answers) == {302: 1, 409: RACERS - 1}
    for status, text in answers:
        if status == 409:
            assert "Those days are taken" in text
            assert "Heron mill: with Village" in text
            assert text.count('name="instead"') == 3

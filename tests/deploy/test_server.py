"""The files by which a real server runs: compose.yaml, the Containerfile, the proxy's file, the units of systemd.

No container runs here. What can be held without one is: that each command exists, that each process is looked after, that no
secret stands in a file, that both ways of running a server run the same processes, and what running them once had shown.
"""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from django.core.management import get_commands

from kitshare.serving.models import RINGING, Lease
from tests.deploy.test_env_example import explained

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"
COMPOSE = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
SERVICES = COMPOSE["services"]
OURS = ("set-up", "web", "worker", "beat")
SERVER = (DEPLOY / "SERVER.md").read_text()
UNITS = sorted((DEPLOY / "systemd").glob("*.service"))


def settings_of(unit: Path) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in unit.read_text().splitlines():
        if line and line[0] not in "#[":
            name, _sign, value = line.partition("=")
            found.setdefault(name, []).append(value)
    return found


def check_that_it_exists(words: list[str]) -> None:
    """A command of ours: a module that can be run, or a command of manage.py."""
    if words[1] == "manage.py":
        assert words[2] in get_commands(), words
        return
    assert words[1] == "-m", words
    assert words[2] in {"gunicorn", "celery", "kitshare.serving.knocking"}, words


def test_the_whole_server_is_in_the_file_and_each_image_has_its_version():
    assert set(SERVICES) == {*OURS, "proxy", "postgres", "redis"}
    for name in ("proxy", "postgres", "redis"):
        assert re.fullmatch(r"[a-z]+:\d+\.\d+", SERVICES[name]["image"]), name
    bases = re.findall(r"^FROM (\S+)", (DEPLOY / "Containerfile").read_text(), re.MULTILINE)
    assert {re.fullmatch(r"python:3\.\d+-slim", base) is not None for base in bases} == {True}


@pytest.mark.parametrize("name", OURS)
def test_a_process_of_ours_exists_and_has_no_right_that_it_does_not_need(name):
    service = SERVICES[name]

    check_that_it_exists(service["command"])
    assert service["read_only"]
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert "ports" not in service
    assert set(service.get("environment", {})) <= set(explained())
    assert service["depends_on"]["postgres"] == {"condition": "service_healthy"}


def test_whatever_stays_up_is_watched_and_started_again():
    stay = set(SERVICES) - {"set-up"}

    assert {name for name in stay if SERVICES[name]["restart"] == "unless-stopped"} == stay
    assert {name for name in stay if SERVICES[name]["healthcheck"]["test"]} == stay
    for name in ("web", "worker", "beat"):
        assert SERVICES[name]["depends_on"]["set-up"] == {"condition": "service_completed_successfully"}


def test_what_is_written_to_the_log_does_not_fill_the_disk():
    for name, service in SERVICES.items():
        assert {"max-size", "max-file"} <= set(service["logging"]["options"]), name


def test_redis_answers_other_containers_and_postgresql_is_asked_where_they_ask_it():
    # Redis, docs "Security", "Protected mode": without a password it answers the loopback interface alone.
    command = SERVICES["redis"]["command"]
    assert command[command.index("--protected-mode") + 1] == "no"
    # pg_isready, docs of PostgreSQL: without --host it asks the socket, where a server that makes a database answers too.
    assert "--host" in SERVICES["postgres"]["healthcheck"]["test"]


def test_the_first_start_waits_little_longer_than_the_site_needs():
    # `up --wait` waits for the first probe of each, which comes after an interval.
    assert (
        max(int(service["healthcheck"]["interval"][:-1]) for name, service in SERVICES.items() if name != "set-up")
        <= 60
    )


def test_each_way_to_a_certificate_that_is_told_of_is_in_the_proxys_file():
    ways = set(re.findall(r"\(tls-(\w+)\)", (DEPLOY / "Caddyfile").read_text()))

    assert ways == {"acme", "given", "internal"}
    assert set(re.findall(r'"(\w+)"', explained()["KITSHARE_TLS"])) == ways
    assert all(f"`{way}`" in SERVER or f"={way}`" in SERVER for way in ways)


def test_a_command_for_the_composer_names_the_settings():
    commands = [line for line in SERVER.splitlines() if "docker compose " in line]

    assert commands == ["alias compose='docker compose --env-file deploy/server.env -f deploy/compose.yaml'"]


def test_what_the_composer_is_told_to_run_exists():
    told = re.findall(
        r"compose (?:exec|run)\b[^`\n]*? (web|worker|set-up|proxy)\b(?: python manage\.py (\w+))?", SERVER
    )

    assert {name for name, _command in told} <= set(SERVICES)
    assert {command for _name, command in told if command} >= {"backup", "restore", "set_up"}
    assert {command for _name, command in told if command} <= set(get_commands())


def test_what_is_kept_lies_in_volumes_and_the_database_is_reached_from_inside_alone():
    mounted = [volume.split(":")[0] for service in SERVICES.values() for volume in service.get("volumes", [])]

    assert {name for name in mounted if not name.startswith(".")} == set(COMPOSE["volumes"])
    assert COMPOSE["networks"]["inside"] == {"internal": True}
    assert SERVICES["postgres"]["networks"] == SERVICES["redis"]["networks"] == ["inside"]
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["proxy"]


def test_no_secret_stands_in_a_file():
    texts = {
        path.name: path.read_text()
        for path in (DEPLOY / "compose.yaml", DEPLOY / "Containerfile", DEPLOY / "Caddyfile", *UNITS)
    }

    for name, text in texts.items():
        given = re.sub(r"\$\{[^}]*\}", "", text)
        assert re.findall(r"(?:PASSWORD|SECRET\w*|KEY) *[:=] *(\S+)", given) == [], name
    assert {"deploy/server.env", "deploy/certificates/"} <= set((ROOT / ".gitignore").read_text().split())


def test_the_image_holds_what_the_site_needs_and_runs_as_nobody_special():
    lines = (DEPLOY / "Containerfile").read_text().splitlines()
    copied = [
        word for line in lines if line.startswith("COPY ") and "--from" not in line for word in line.split()[1:-1]
    ]
    let_in = [line[1:] for line in (DEPLOY / "Containerfile.dockerignore").read_text().splitlines() if line[:1] == "!"]

    assert sorted(copied) == sorted(let_in)
    assert all((ROOT / name).exists() for name in copied)
    assert "USER kitshare" in lines
    assert "--require-hashes" in "".join(lines)


def test_the_units_run_what_the_composer_runs():
    for name in ("web", "worker", "beat"):
        unit = settings_of(DEPLOY / "systemd" / f"kitshare-{name}.service")
        words = shlex.split(unit["ExecStart"][0])

        assert words[0] == "/srv/kitshare/current/.venv/bin/python"
        assert words[1:] == SERVICES[name]["command"][1:]


def test_a_beat_is_well_while_somebody_holds_the_lease():
    code = SERVICES["beat"]["healthcheck"]["test"][3]

    compile(code, "healthcheck", "exec")
    assert f"FROM {Lease._meta.db_table} WHERE work = '{RINGING}' AND until > now()" in code
    assert {"work", "until"} <= {field.name for field in Lease._meta.fields}


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.stem)
def test_a_unit_is_hardened(unit):
    said = settings_of(unit)

    assert said["User"] == ["kitshare"]
    assert said["CapabilityBoundingSet"] == [""]
    assert said["ProtectSystem"] == ["strict"]
    for name in (
        "NoNewPrivileges",
        "PrivateTmp",
        "PrivateDevices",
        "ProtectHome",
        "ProtectKernelTunables",
        "RestrictSUIDSGID",
    ):
        assert said[name] == ["yes"], name
    assert said["EnvironmentFile"] == ["/etc/kitshare/server.env"]
    check_that_it_exists(shlex.split(said["ExecStart"][0]))


def test_the_units_are_well_formed():
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not on this machine")
    units = [str(path) for path in sorted((DEPLOY / "systemd").iterdir())]

    said = subprocess.run([tool, "verify", "--man=no", *units], capture_output=True, text=True, check=False).stderr

    # The release is not installed where the units expect it: that alone is said.
    assert [line for line in said.splitlines() if "is not executable: No such file" not in line] == []


def test_gunicorn_takes_its_settings():
    done = subprocess.run(
        [sys.executable, "-m", "gunicorn", "--config", "python:kitshare.serving.gunicorn_server", "--print-config", "kitshare.wsgi"],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    said = dict(line.split("=", 1) for line in re.sub(r" +", " ", done.stdout).splitlines() if "=" in line)
    said = {name.strip(): value.strip() for name, value in said.items()}
    assert said["worker_class"] == "kitshare.serving.leaving.LeavesInOrder"
    assert (said["keepalive"], said["max_requests_jitter"], said["graceful_timeout"]) == ("0", "1000", "30")


def test_the_proxy_asks_where_the_web_server_listens_and_waits_longer_than_it():
    said = (DEPLOY / "Caddyfile").read_text()

    assert SERVICES["proxy"]["environment"]["KITSHARE_WEB"] == "web:8000"
    assert SERVICES["web"]["environment"]["KITSHARE_BIND"].endswith(":8000")
    assert set(re.findall(r"\{\$(\w+)", said)) - {"KITSHARE_CERTIFICATES"} == set(SERVICES["proxy"]["environment"])
    assert "response_header_timeout 90s" in said

"""Servers of a test's own, which may be killed: those of the machine are left alone."""

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

PLACES = [*Path("/usr/lib/postgresql").glob("*/bin"), Path("/usr/sbin")]


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        port: int = asked.getsockname()[1]
        return port


def program(name: str) -> str | None:
    return shutil.which(name) or next((str(place / name) for place in PLACES if (place / name).exists()), None)


class OwnRedis:
    """A Redis that keeps nothing: killed, it has lost everything."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        self.address = f"redis://127.0.0.1:{self.port}/0"
        self.start()

    def start(self) -> None:
        words = ["--port", str(self.port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no"]
        self.process = subprocess.Popen(
            [program("redis-server") or "redis-server", *words, "--dir", str(self.folder)], stdout=subprocess.DEVNULL
        )
        until = time.monotonic() + 10
        while time.monotonic() < until:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                time.sleep(0.05)
        raise AssertionError("Redis did not start.")

    def kill(self) -> None:
        self.process.send_signal(signal.SIGCONT)
        self.process.kill()
        self.process.wait()


class OwnPostgreSQL:
    """A cluster of its own, which holds to what it committed (`fsync` aside) when it is stopped without a word."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="kitshare-"))
        self.port = free_port()
        # PostgreSQL will not run as root.
        self.as_user = {"user": "postgres", "group": "postgres", "extra_groups": []} if os.getuid() == 0 else {}
        if self.as_user:
            shutil.chown(self.folder, "postgres")
        self._run("initdb", "-U", "kitshare", "-A", "trust", "-E", "UTF8", "--no-sync")
        self.start()

    def _run(self, name: str, *words: str) -> None:
        subprocess.run(
            [program(name) or name, "-D", str(self.folder / "data"), *words],
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            **self.as_user,
        )

    def start(self) -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off -c jit=off"
        self._run("pg_ctl", "-w", "-l", str(self.folder / "log"), "-o", options, "start")

    def stop_at_once(self) -> None:
        self._run("pg_ctl", "-m", "immediate", "stop")

    def take_tables_of(self, there: dict[str, str]) -> None:
        """The tables of another database, without what is in them."""
        asked = [
            program("pg_dump") or "pg_dump",
            "--schema-only",
            "--no-owner",
            "-h",
            there["HOST"],
            "-U",
            there["USER"],
        ]
        dump = subprocess.run(
            [*asked, "-p", str(there["PORT"]), there["NAME"]],
            env=os.environ | {"PGPASSWORD": there["PASSWORD"]},
            check=True,
            capture_output=True,
        )
        given = [program("psql") or "psql", "-q", "-h", "127.0.0.1", "-p", str(self.port), "-U", "kitshare", "postgres"]
        subprocess.run(given, input=dump.stdout, check=True, stdout=subprocess.DEVNULL)

    def remove(self) -> None:
        if (self.folder / "data" / "postmaster.pid").exists():
            self.stop_at_once()
        shutil.rmtree(self.folder)

"""What is killed outright loses nothing: the server between a photo and its check, and the phone between two ticks."""

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.db import connection
from django.utils import timezone
from playwright.sync_api import expect

from kitshare.bookings.models import Booking
from tests.browser.conftest import CHROMIUM, QUIET, Person
from tests.browser.phones import differs, line, panel, part, photo_word, photograph, sign, tick
from tests.world import PASSWORD

ROOT = Path(__file__).resolve().parents[2]
DONE = "SELECT (SELECT count(*) FROM checks_handovercheck), (SELECT count(*) FROM checks_checkline)"
DONE += ", (SELECT count(*) FROM checks_checkline WHERE photo_id IS NOT NULL), (SELECT count(*) FROM upkeep_fault)"


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port: int = door.getsockname()[1]
        return port


class Site:
    """The whole site in processes of its own, on the data that the test has made."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
        self.address = f"http://127.0.0.1:{port}"
        self.environment = os.environ | {"KITSHARE_DATA": str(folder), "KITSHARE_ADDRESS": self.address}
        self.environment.pop("DATABASE_URL", None)
        self._manage("collectstatic", "--noinput", "-v0").wait()
        self.process: subprocess.Popen[bytes] | None = None

    def _manage(self, *words: str) -> "subprocess.Popen[bytes]":
        command = [sys.executable, "manage.py", *words]
        return subprocess.Popen(command, cwd=ROOT, env=self.environment, start_new_session=True)

    def start(self) -> None:
        self.process = self._manage("serve", "--port", str(self.port), "--workers", "1", "--every", "600")
        until = time.monotonic() + 30
        while time.monotonic() < until:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
                return
            except OSError:
                time.sleep(0.1)
        pytest.fail("The site did not start.")

    def kill(self) -> None:
        """Each of its processes, at once."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


@pytest.fixture
def site(tmp_path, agreed_booking, sunniva):
    """A site with a booking of today, and with Sunniva's password kept as sites keep it."""
    today = timezone.localdate()
    Booking.objects.filter(pk=agreed_booking.pk).update(out_on=today, back_on=today + timedelta(days=3))
    sunniva.password = Argon2PasswordHasher().encode(PASSWORD, "salt for this test")
    sunniva.save()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(tmp_path / "kitshare.sqlite3")])
    one = Site(tmp_path, free_port())
    one.start()
    yield one
    one.kill()


def counted(folder: Path) -> tuple[int, int, int, int]:
    """Checks, lines, photos and faults, as the killed and restarted site has them on its disk."""
    with sqlite3.connect(folder / "kitshare.sqlite3") as base:
        return base.execute(DONE).fetchone()


@pytest.mark.skipif(connection.vendor != "sqlite", reason="copies the data of the test into a file")
def test_a_server_killed_between_a_photo_and_its_check_and_a_phone_that_dies_lose_nothing(
    site, sunniva, agreed_booking, tmp_path_factory, playwright_here
):
    profile = tmp_path_factory.mktemp("phone")
    browser = playwright_here.chromium.launch_persistent_context(
        profile, executable_path=CHROMIUM, args=QUIET, viewport={"width": 390, "height": 844}
    )
    phone = Person(browser.pages[0], site.address)
    phone.sign_in(sunniva)
    expect(phone.page.get_by_role("heading", level=1)).not_to_have_text("Sign in")
    phone.go(f"/bookings/{agreed_booking.pk}/")
    expect(phone.page.get_by_text("ready for a yard without signal")).to_be_visible(timeout=20_000)
    phone.go(f"/checks/pickup/{agreed_booking.pk}/")
    tick(phone.page, "Feed guard", "Drive pin")
    photograph(differs(phone.page, "Mill lead", "damaged"))
    photo_word(part(phone.page, "Mill lead"), "Received")
    line(phone.page, "Kept on this phone")

    site.kill()
    end_at_once(browser, profile)
    browser = playwright_here.chromium.launch_persistent_context(
        profile, executable_path=CHROMIUM, args=QUIET, viewport={"width": 390, "height": 844}
    )
    phone = Person(browser.pages[0], site.address)
    phone.go(f"/checks/pickup/{agreed_booking.pk}/")
    phone.sees("3 of 5 looked at")
    tick(phone.page, "Cloths", "Sanitiser sachets")
    sign(phone.page)
    phone.press("Hand over the kit")
    panel(phone.page, "Kept on this phone")
    assert counted(site.folder)[:2] == (0, 0)

    # A browser writes its cookies down every half minute: one that is killed may have lost who was signed in.
    browser.clear_cookies()
    site.start()
    phone.page.evaluate("document.querySelector('[data-phone-panel] button').click()")
    panel(phone.page, "it is sent after you sign in, and only by you")
    phone.sign_in(sunniva)
    phone.page.get_by_text("Menu").wait_for()
    phone.go(f"/checks/pickup/{agreed_booking.pk}/")
    phone.page.get_by_text(re.compile("Received at|handed over already")).first.wait_for(timeout=20_000)
    assert counted(site.folder) == (1, 5, 1, 1)
    browser.close()


def end_at_once(browser, profile: Path) -> None:
    """The browser of this phone, by the signal that nothing outlives."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                words = (entry / "cmdline").read_bytes().split(b"\0")
            except OSError:
                continue
            if f"--user-data-dir={profile}".encode() in words and b"--type" not in b"".join(words)[:4000]:
                os.kill(int(entry.name), signal.SIGKILL)
    with pytest.raises(Exception, match="closed"):
        browser.pages[0].reload()

"""Every page of a check, judged by axe-core, a package that looks for what keeps people out; light and dark.

The package comes by npm, into a folder of the test run.
"""

import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from kitshare.checks import arriving, relaying
from kitshare.checks.models import HandoverCheck, Outcome
from kitshare.checks.sent_models import SentSheet
from kitshare.rules.checklists import Condition
from tests.browser.phones import differs, kept_pages, panel, ready, sign, tick
from tests.checks.conftest import all_sound, on_the_day, parts, pick_up, relay
from tests.checks.sheets import but, signed
from tests.checks.test_arriving import sent
from tests.readers import absent

__all__ = ["all_sound", "on_the_day", "parts", "pick_up", "relay", "sent"]
PACKAGE = "axe-core@4"


@pytest.fixture(scope="session")
def axe(tmp_path_factory) -> str:
    """The package's own script."""
    npm = shutil.which("npm")
    if not npm:
        absent("npm")
    folder: Path = tmp_path_factory.mktemp("axe")
    (folder / "package.json").write_text('{"private": true}')
    command = [npm, "install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts", "--loglevel=error", PACKAGE]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=240)
    if done.returncode:
        absent(f"{PACKAGE}, which npm could not install: {done.stderr.strip()[-300:]}")
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text()


@pytest.fixture
def clock(monkeypatch, now):
    class Clock:
        at = now

    monkeypatch.setattr(timezone, "now", lambda: Clock.at)
    return Clock


class Judge:
    """Runs axe-core on the page as it stands, in both schemes of colour, and remembers what it found."""

    def __init__(self, page: Page, script: str) -> None:
        self.page = page
        self.script = script
        self.found: dict[str, list[str]] = {}
        self.rules = 0

    def looks_at(self, name: str) -> None:
        self.page.wait_for_load_state("load")
        self.page.evaluate(self.script)
        for scheme in ("dark", "light"):
            self.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            # Colours are all that the scheme changes.
            only = {"runOnly": ["color-contrast"]} if scheme == "dark" else {}
            said = self.page.evaluate("(only) => axe.run(document, {...only, resultTypes: ['violations']})", only)
            self.rules += len(said["passes"])
            wrong = [
                f"{one['id']}: {node['html'][:160]} {node['failureSummary'][:300]}"
                for one in said["violations"]
                for node in one["nodes"]
            ]
            if wrong:
                self.found[f"{name}, {scheme}"] = wrong


def test_no_page_of_a_check_keeps_anybody_out(at_a_phone, axe, sunniva, perpetua, agreed_booking, clock, request):
    phone = at_a_phone(sunniva)
    page = phone.page
    judge = Judge(page, axe)
    ready(phone, agreed_booking)
    pickup = f"/checks/pickup/{agreed_booking.pk}/"

    phone.go(pickup)
    judge.looks_at("pickup")
    tick(page, "Feed guard", "Mill lead", "Sanitiser sachets")
    differs(page, "Drive pin", "missing")
    differs(page, "Cloths", "worn")
    phone.press("Hand over the kit")
    judge.looks_at("pickup with errors")
    sign(page)
    phone.press("Hand over the kit")
    judge.looks_at("pickup that a part stops")
    tick(page, "Drive pin")
    page.context.set_offline(True)
    phone.press("Hand over the kit")
    panel(page, "Kept on this phone")
    judge.looks_at("kept on the phone")
    phone.go("/people/me/")
    judge.looks_at("no signal")
    page.evaluate("indexedDB.deleteDatabase('kitshare')")
    page.context.set_offline(False)
    assert pickup in kept_pages(page)

    phone.go(f"/checks/print/{agreed_booking.pk}/")
    judge.looks_at("print")
    phone.go(f"/checks/return/{agreed_booking.pk}/")
    judge.looks_at("not now")

    handing = request.getfixturevalue("relay")
    clock.at = request.getfixturevalue("on_the_day")
    phone.go(f"/checks/{HandoverCheck.objects.get().pk}/")
    judge.looks_at("finished")
    phone.go(f"/checks/return/{agreed_booking.pk}/")
    judge.looks_at("return")
    phone.go(f"/checks/relay/{handing.pk}/")
    judge.looks_at("relay")

    seen = but(request.getfixturevalue("all_sound"), request.getfixturevalue("drive_pin"), Condition.MISSING)
    two = signed(taken_name="Leilani Crabbwater", is_clean=True)
    asked = {"relay": handing, "seen": seen, "signature": two, "by": sunniva, "at": clock.at}
    relaying.stop_relay(**asked, today=date(2027, 9, 4))
    phone.go(f"/checks/{HandoverCheck.objects.get(outcome=Outcome.STOPPED).pk}/")
    judge.looks_at("stopped")
    phone.go(f"/checks/relay/{handing.pk}/")
    judge.looks_at("relay set aside")

    sheet = request.getfixturevalue("sent")
    arriving.keep_and_judge(**sheet(by=sunniva))  # of a booking that went out long ago: kept beside its check
    phone = at_a_phone(perpetua)
    judge.page = phone.page
    phone.go("/checks/sent/")
    judge.looks_at("sheets from phones")
    phone.go(f"/checks/sent/{SentSheet.objects.get().pk}/")
    judge.looks_at("one sheet from a phone")

    assert judge.found == {}
    assert judge.rules > 200

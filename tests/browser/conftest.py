"""Chromium for the tests that need a person at a screen: the system's own, never a fetched one."""

import os
import shutil
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from django.core import signals
from playwright.sync_api import Browser, Page, Playwright, Response, sync_playwright

from tests.world import PASSWORD

# Playwright keeps an event loop in this thread; the tests use the database from it all the same.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
QUIET += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(scope="session")
def playwright_here() -> Iterator[Playwright]:
    if not CHROMIUM:
        if os.environ.get("CI") == "true":
            pytest.fail("Chromium is required here, and there is none.")
        pytest.skip("There is no Chromium on this machine.")
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def chromium(playwright_here) -> Iterator[Browser]:
    browser = playwright_here.chromium.launch(executable_path=CHROMIUM, args=QUIET)
    yield browser
    browser.close()


class UnderWay:
    """Counts what the server of the test is answering: of a page that was closed too, an answer is written to its end."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._count = 0
        self._changed_at = 0.0

    def began(self, **_of: Any) -> None:
        self._note(1)

    def ended(self, **_of: Any) -> None:
        self._note(-1)

    def is_over(self, *, within: float = 20, quiet: float = 0.1) -> bool:
        """Wait until nothing has been under way for a moment, in seconds."""
        last = time.monotonic() + within
        while time.monotonic() < last:
            with self._lock:
                if self._count <= 0 and time.monotonic() - self._changed_at > quiet:
                    return True
            time.sleep(0.02)
        return False

    def _note(self, more: int) -> None:
        with self._lock:
            self._count += more
            self._changed_at = time.monotonic()


@pytest.fixture
def under_way(live_server) -> Iterator[UnderWay]:
    """Waits at the end: the tables are emptied next, which no request may have in hand then."""
    counted = UnderWay()
    signals.request_started.connect(counted.began)
    signals.request_finished.connect(counted.ended)
    yield counted
    over = counted.is_over()
    signals.request_started.disconnect(counted.began)
    signals.request_finished.disconnect(counted.ended)
    assert over, "The server of the test was still answering."


def _is_broken(answer: Response) -> bool:
    """A 500, or a 503 that does not say when to come again."""
    return answer.status >= 500 and not (answer.status == 503 and "retry-after" in answer.headers)


class Person:
    """Somebody at a phone: a page, and short ways to do what people do."""

    def __init__(self, page: Page, site: str) -> None:
        self.page = page
        self.site = site
        self.broken: list[str] = []
        page.on("pageerror", lambda error: self.broken.append(str(error)))
        page.on("response", lambda answer: self.broken.append(answer.url) if _is_broken(answer) else None)

    def go(self, path: str) -> None:
        self.page.goto(f"{self.site}{path}")

    def sign_in(self, member) -> None:
        self.go("/people/sign-in/")
        self.page.get_by_label("E-mail address").fill(member.email)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.press("Sign in")

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name, exact=True).first.click()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).locator("visible=true").first.wait_for(timeout=20_000)


@pytest.fixture
def at_a_phone(chromium, live_server, under_way) -> Iterator:
    """Sign somebody in on a phone of their own: `at_a_phone(sunniva)`."""
    contexts = []
    people = []

    def sign_in(member, *, width: int = 390, height: int = 844, site: str = "", room: int = 0) -> Person:
        context = chromium.new_context(viewport={"width": width, "height": height})
        context.set_default_timeout(20_000)
        contexts.append(context)
        person = Person(context.new_page(), site or live_server.url)
        people.append(person)
        if room:
            wire = context.new_cdp_session(person.page)
            wire.send("Storage.overrideQuotaForOrigin", {"origin": person.site, "quotaSize": room})
        person.sign_in(member)
        return person

    yield sign_in
    for context in contexts:
        context.close()
    assert [problem for person in people for problem in person.broken] == []

"""A walk through the main loop over HTTP, as three people with a browser each would take it.

It begins on freshly loaded demonstration data: the lone pasteuriser, Kettle, is at the depot.
"""

import re
import urllib.parse
from collections.abc import Callable, Iterator
from datetime import date, timedelta

from kitshare.demonstration.browsing import Browser, Form, Page, StepFailed
from kitshare.demonstration.people import PASSWORD

DAY = timedelta(days=1)
PART = "Drain tap"


class Walk:
    """The steps in order; each says what it saw."""

    def __init__(self, site: str, *, today: date, tick: Callable[[], object]) -> None:
        self.site = site
        self.today = today
        self.tick = tick
        self.village = Browser(site)
        self.coordinator = Browser(site)
        self.bench = Browser(site)
        self.booking = self.next_booking = self.fault = ""

    def steps(self) -> Iterator[tuple[str, str]]:
        """Take each step, and yield its name and what was seen. Raises StepFailed at the first that does not go."""
        for step in (
            self.sign_in,
            self.ask,
            self.agree,
            self.size,
            self.next_village_books,
            self.hand_over,
            self.return_with_a_part_missing,
            self.set_aside,
            self.next_village_is_told,
            self.mend,
            self.release,
            self.follow_the_calendar,
        ):
            name = (step.__doc__ or "").strip().rstrip(".")
            yield name, step()

    def sign_in(self) -> str:
        """Three people sign in."""
        greeted = []
        for browser, name in ((self.village, "sunniva"), (self.coordinator, "perpetua"), (self.bench, "teodor")):
            page = browser.open("/people/sign-in/")
            form = page.form(with_words="Sign in")
            page = browser.send(page, form, username=f"{name}@example.org", password=PASSWORD)
            page.says("What needs you")
            greeted.append(name)
        return ", ".join(greeted)

    def ask(self) -> str:
        """A borrower asks for the pasteuriser, from today until tomorrow morning."""
        page = self._book(self.village, "Sorrelhythe", self.today, self.today + DAY)
        self.booking = page.address
        return page.says("The days are held")

    def agree(self) -> str:
        """The coordinator agrees."""
        return self._agree(self.booking)

    def size(self) -> str:
        """The plan says how much juice to expect."""
        page = self.village.open(self.booking)
        found = re.search(r"[^.]*litres[^.]*\.", page.text)
        if not found:
            raise StepFailed(f"{page.address} gives no litres.")
        return found[0].strip()

    def next_village_books(self) -> str:
        """The next village books the same machine, four days later."""
        start = self.today + 4 * DAY
        page = self._book(self.coordinator, "Fennerlow", start, start + DAY)
        self.next_booking = page.address
        return self._agree(self.next_booking)

    def hand_over(self) -> str:
        """Every part is ticked, and the kit is handed over."""
        key = self._key(self.booking)
        page = self.village.open(f"/checks/pickup/{key}/")
        form = page.form(with_words="Hand over the kit")
        page = self.village.send(page, form, **self._sound(form), **self._signed())
        page.says("Pickup check")
        return self.village.open(self.booking).says("out")

    def return_with_a_part_missing(self) -> str:
        """The kit comes back without a vital part."""
        key = self._key(self.booking)
        page = self.village.open(f"/checks/return/{key}/")
        form = page.form(with_words="Take the kit back")
        typed = self._sound(form)
        [seen] = [name for name in form.names_under(PART) if name.endswith("-seen")]
        typed[seen] = "other"
        typed[seen.replace("-seen", "-condition")] = "missing"
        typed[seen.replace("-seen", "-note")] = "We looked in every crate."
        page = self.village.send(page, form, **typed, **self._signed())
        page.says(PART)
        return page.says("missing")

    def set_aside(self) -> str:
        """The workbench has the fault, and the machine cannot be booked."""
        page = self.bench.open("/workbench/")
        page.says(PART)
        page.says("Fennerlow")
        self.fault = next(address for address, said in page.links if PART.lower() in said.lower())
        refused = self._fill(self.coordinator, "Linnowby", self.today + 9 * DAY, self.today + 10 * DAY)
        return refused.says("set aside")

    def next_village_is_told(self) -> str:
        """The next village is at risk, and is told."""
        self.coordinator.open(self.next_booking).says("at risk")
        self.tick()
        page = self.coordinator.open("/post/?q=Leilani")
        page.says("Leilani Crabbwater")
        return page.says("at risk")

    def mend(self) -> str:
        """The maintenance volunteer takes the fault on and mends it."""
        page = self.bench.open(self.fault)
        page = self.bench.send(page, page.form(with_words="Take it on"))
        page = self.bench.send(page, page.form(action="/mend/"), note="A new tap from the shelf, and a new seal.")
        return page.says("to be retested")

    def release(self) -> str:
        """It is released after a retest, and the next booking is no longer at risk."""
        page = self.bench.open(self.fault)
        page = self.bench.send(
            page, page.form(action="/release/"), retest_note="Filled, shut and left for an hour: no drip."
        )
        page.says("released")
        if "at risk" in self.coordinator.open(self.next_booking).text.lower():
            raise StepFailed("The next booking is still at risk.")
        return "released; the next booking is no longer at risk"

    def follow_the_calendar(self) -> str:
        """The calendar feed has the bookings."""
        page = self.coordinator.open("/scheme/")
        address = next(
            (said for said in re.findall(r"(?:https?|webcal)://\S+\.ics|/season/feed/\w+\.ics", self._raw(page))), ""
        )
        if not address:
            raise StepFailed("The scheme's page gives no calendar address.")
        feed = self.coordinator.open(urllib.parse.urlsplit(address).path)
        count = feed.text.count("BEGIN:VEVENT")
        if not count:
            raise StepFailed("The calendar feed is empty.")
        return f"{count} events"

    def _book(self, browser: Browser, village: str, start: date, end: date) -> Page:
        page = self._fill(browser, village, start, end)
        page.says("Nothing is sent yet")
        return browser.send(page, page.form(with_words="Book the machines"), deed="send")

    def _fill(self, browser: Browser, village: str, start: date, end: date) -> Page:
        page = browser.open("/bookings/new/")
        form = page.form(with_words="Look it over")
        typed: dict[str, str | list[str]] = {
            "machines": [form.choice("machines", "Kettle")],
            "out_on": start.isoformat(),
            "back_on": end.isoformat(),
            "fruit_amount": "20",
            "fruit_unit": "crate",
            "deed": "look_over",
        }
        if any(name == "for_whom" for name, _value, _said in form.choices):
            typed["for_whom"] = form.choice("for_whom", village)
        return browser.send(page, form, **typed)

    def _agree(self, booking: str) -> str:
        page = self.coordinator.open(booking)
        page = self.coordinator.send(page, page.form(with_words="Agree the booking"))
        return page.says("The village is told")

    def _sound(self, form: Form) -> dict[str, str | list[str]]:
        return {name: "all" for name in form.legends if name.endswith("-seen")}

    def _signed(self) -> dict[str, str | list[str]]:
        return {"signed_name": "Sunniva Okparadine", "signed_role": "borrower", "deed": "finish"}

    def _key(self, booking: str) -> str:
        return urllib.parse.urlsplit(booking).path.strip("/").split("/")[-1]

    def _raw(self, page: Page) -> str:
        return " ".join([page.text, *(address for address, _said in page.links)])

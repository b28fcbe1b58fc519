"""Every address of the site, read from its own list of them, and somebody who opens them and notes what breaks."""

import sys
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode, urljoin, urlsplit

from django.core.signals import got_request_exception
from django.test import Client
from django.urls import Resolver404, URLPattern, URLResolver, get_resolver, resolve, reverse

from tests.web.page import Page

# Keys of nothing, whatever the kind: none, free ones, and such as no database can hold.
OF_NOTHING: dict[str, list[Any]] = {
    "Int": [0, 999_999_999, 2**63, 10**40],
    "UUID": ["00000000-0000-0000-0000-000000000000"],
    "Slug": ["nothing-of-the-kind", "x" * 3_000],
    "String": ["nothing of the kind", "x" * 3_000],
}
FIRST_FEW = range(1, 4)


def named() -> dict[str, dict[str, str]]:
    """Every named address, with the kind of each key in it: {"bookings:show": {"pk": "Int"}}."""
    return dict(_named(get_resolver(), ""))


def _named(resolver: URLResolver, space: str) -> Iterator[tuple[str, dict[str, str]]]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _named(entry, f"{space}{entry.namespace}:" if entry.namespace else space)
        elif isinstance(entry, URLPattern) and entry.name:
            kinds = entry.pattern.converters.items()
            yield f"{space}{entry.name}", {key: type(kind).__name__.removesuffix("Converter") for key, kind in kinds}


def addresses(name: str, kinds: dict[str, str], *, of_nothing: bool = False) -> list[str]:
    """The one address of a page without keys; else some where there may be something, and some where nothing can be.

    `of_nothing` leaves out those where there may be something: it was found otherwise.
    """
    if not kinds:
        return [] if of_nothing else [reverse(name)]
    turns = range(max(len(OF_NOTHING[kind]) for kind in kinds.values()))
    keys = [{key: OF_NOTHING[kind][turn % len(OF_NOTHING[kind])] for key, kind in kinds.items()} for turn in turns]
    if set(kinds.values()) == {"Int"} and not of_nothing:
        keys = [dict.fromkeys(kinds, pk) for pk in FIRST_FEW] + keys
    return [reverse(name, kwargs=one) for one in keys]


class Visitor:
    """Opens pages as somebody, and remembers what broke and which links led nowhere."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.client.raise_request_exception = False
        self.broken: list[str] = []
        self.dead_ends: list[str] = []
        self.pages: dict[str, str] = {}
        self.forms: dict[str, tuple[str, dict[str, str]]] = {}  # one for each deed: where it is sent to, and its fields
        self._cause: BaseException | None = None

    def __enter__(self) -> "Visitor":
        got_request_exception.connect(self._note)
        return self

    def __exit__(self, *_: object) -> None:
        got_request_exception.disconnect(self._note)

    def _note(self, **_: object) -> None:
        self._cause = sys.exc_info()[1]

    def ask(self, address: str, data: Any = None, *, method: str = "get", **more: Any) -> Any:
        """Send one request. A breakage is noted with its cause."""
        answer = getattr(self.client, method)(address, data, **more)
        # That something behind the pages is not well is what /ready/all/ is asked for, and no breakage.
        if answer.status_code >= 500 and not (address.startswith("/ready/") and "json" in answer["Content-Type"]):
            self.broken.append(f"{method} {address[:200]} {data!r:.300}: {answer.status_code} {self._cause!r:.300}")
        if answer.streaming:
            # Read to its end, as a browser does: closed unread, it takes the test's own connection with it on PostgreSQL.
            for _chunk in answer.streaming_content:
                pass
        return answer

    def send(self, address: str, fields: dict[str, str]) -> Any:
        """Send a form, with what no browser would let through too."""
        body = urlencode({name: value.encode("utf-8", "surrogatepass") for name, value in fields.items()})
        return self.ask(address, body, method="post", content_type="application/x-www-form-urlencoded")

    def walk(self, start: str = "/", *, of_each: int = 3) -> dict[str, list[str]]:
        """Follow links, to at most a few addresses of each kind; give them by the name of the page behind them."""
        found: dict[str, list[str]] = {}
        waiting, seen = [(start, "")], {start}
        while waiting:
            address, came_from = waiting.pop(0)
            answer = self.ask(address)
            if answer.status_code >= 400:
                self.dead_ends.append(f"{came_from} leads to {address}: {answer.status_code}")
            if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
                continue
            self.pages[address] = answer.content.decode()
            page = Page(self.pages[address])
            for action, fields in page.forms:
                place = urljoin(address, action)
                self.forms.setdefault(_behind(place), (place, fields))
            for link in page.links:
                place = urlsplit(urljoin(address, link))
                if place.netloc or place.scheme or place.path in seen:
                    continue
                seen.add(place.path)
                few = found.setdefault(_behind(place.path), [])
                if len(few) < of_each:
                    few.append(place.path)
                    waiting.append((place.path, address))
        return found


def _behind(path: str) -> str:
    try:
        return resolve(path).view_name
    except Resolver404:
        return ""

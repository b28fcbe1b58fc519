"""A plain browser: it keeps cookies, follows redirects, and fills in the forms that a page offers."""

import http.cookiejar
import re
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Final

UNTYPED: Final = {"submit", "button", "image", "reset", "file"}


class StepFailed(Exception):
    """The site did not do what a person would have needed; the message says what was seen instead."""


@dataclass(slots=True)
class Form:
    """A form of a page, with what it would send if nothing were typed."""

    action: str
    method: str
    words: str = ""
    fields: list[tuple[str, str]] = field(default_factory=list)
    choices: list[tuple[str, str, str]] = field(default_factory=list)
    legends: dict[str, str] = field(default_factory=dict)

    def choice(self, name: str, words: str) -> str:
        """The value of a choice, by the words beside it."""
        for owner, value, said in self.choices:
            if owner == name and words.lower() in said.lower():
                return value
        said = ", ".join(said for owner, _value, said in self.choices if owner == name)
        raise StepFailed(f"The form offers no {words!r} under {name}. It offers: {said}")

    def names_under(self, legend: str) -> list[str]:
        """The names of the fields that stand under a legend with these words."""
        return [name for name, said in self.legends.items() if legend.lower() in said.lower()]

    def filled(self, typed: dict[str, str | list[str]]) -> list[tuple[str, str]]:
        """What is sent: the form's own values, with those typed in their place."""
        kept = [(name, value) for name, value in self.fields if name not in typed]
        for name, value in typed.items():
            kept += [(name, one) for one in ([value] if isinstance(value, str) else value)]
        return kept


class _Reader(HTMLParser):
    """Collects the forms, the links and the words of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[tuple[str, str]] = []
        self.words: list[str] = []
        self._form: Form | None = None
        self._select: str | None = None
        self._area: str | None = None
        self._choice: tuple[str, str] | None = None
        self._legend: str | None = None
        self._in_legend = False
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag in {"script", "style"}:
            self._hidden += 1
        elif tag == "form":
            self._form = Form(action=given.get("action", ""), method=given.get("method", "get").lower())
            self.forms.append(self._form)
        elif tag == "legend":
            self._legend, self._in_legend = "", True
        elif tag == "a":
            self.links.append((given.get("href", ""), ""))
        elif self._form is not None and given.get("name"):
            self._take(tag, given["name"], given)
        elif tag == "option" and self._form is not None and self._select:
            self._choice = (self._select, given.get("value", ""))
            if "selected" in given:
                self._form.fields.append(self._choice)

    def _take(self, tag: str, name: str, given: dict[str, str]) -> None:
        form = self._form
        if form is None:
            return
        if tag == "select":
            self._select = name
        elif tag == "textarea":
            self._area = name
            form.fields.append((name, ""))
        elif tag == "input":
            kind = given.get("type", "text")
            if kind in {"checkbox", "radio"}:
                self._choice = (name, given.get("value", "on"))
                form.legends.setdefault(name, self._legend or "")
                if "checked" not in given:
                    return
            if kind not in UNTYPED:
                form.fields.append((name, given.get("value", "on" if kind == "checkbox" else "")))

    def handle_endtag(self, tag: str) -> None:
        if tag in {"script", "style"}:
            self._hidden -= 1
        elif tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None
        elif tag == "legend":
            self._in_legend = False

    def handle_data(self, data: str) -> None:
        if self._hidden or not data.strip():
            return
        if self._area and self._form:
            self._form.fields[-1] = (self._area, data.removeprefix("\n"))
            return
        self.words.append(data.strip())
        if self._in_legend:
            self._legend = f"{self._legend} {data.strip()}"
        if self._form is not None:
            self._form.words += f" {data.strip()}"
            if self._choice:
                self._form.choices.append((*self._choice, data.strip()))
                self._choice = None
        if self.links:
            address, said = self.links[-1]
            self.links[-1] = (address, f"{said} {data.strip()}".strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page as it came: where from, what it says, what it offers."""

    address: str
    text: str
    forms: list[Form]
    links: list[tuple[str, str]]

    def form(self, *, with_words: str = "", action: str = "") -> Form:
        """The form whose action, or a button or label of which, has these words."""
        for form in self.forms:
            if with_words.lower() in form.words.lower() and action in form.action and form.method == "post":
                return form
        raise StepFailed(f"{self.address} offers no form {with_words or action!r}. It says: {self.text[:300]}")

    def says(self, words: str) -> str:
        """What stands around some words of the page. Raises StepFailed where they do not stand."""
        found = re.search(rf".{{0,60}}{re.escape(words)}.{{0,60}}", self.text, re.IGNORECASE)
        if not found:
            raise StepFailed(f"{self.address} does not say {words!r}. It says: {self.text[:600]}")
        return f"... {found[0].strip()} ..."


class Browser:
    """One person's browser."""

    def __init__(self, site: str, *, patience: int = 30) -> None:
        """`patience`: how many seconds to wait for a page."""
        self.site = site
        self.patience = patience
        jar = http.cookiejar.CookieJar()
        self._opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(jar), urllib.request.ProxyHandler({})
        )

    def open(self, path: str) -> Page:
        """Fetch a page, wherever it sends us."""
        return self._fetch(urllib.request.Request(urllib.parse.urljoin(self.site, path)))  # noqa: S310

    def send(self, page: Page, form: Form, **typed: str | list[str]) -> Page:
        """Fill in a form of a page and send it."""
        body = urllib.parse.urlencode(form.filled(typed)).encode()
        where = urllib.parse.urljoin(page.address, form.action or page.address)
        return self._fetch(urllib.request.Request(where, data=body, headers={"Referer": page.address}))  # noqa: S310

    def _fetch(self, request: urllib.request.Request) -> Page:
        try:
            with self._opener.open(request, timeout=self.patience) as answer:
                html, address = answer.read().decode(), answer.url
        except urllib.error.HTTPError as error:
            error.close()  # it holds the connection
            raise StepFailed(f"{request.full_url} answered {error.code}.") from error
        except OSError as error:
            raise StepFailed(f"{request.full_url} did not answer: {error}.") from error
        reader = _Reader()
        reader.feed(html)
        return Page(address=address, text=" ".join(reader.words), forms=reader.forms, links=reader.links)

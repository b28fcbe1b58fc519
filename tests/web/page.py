"""What one page is made of, as far as tests ask about every page alike."""

from collections import Counter
from html.parser import HTMLParser

NOT_FILLED_IN = {"hidden", "submit", "button", "reset"}
WITHOUT_END = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class Page(HTMLParser):
    """Reads a page once, and lists what it is made of."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.fields: dict[str, str] = {}
        self.forms: list[tuple[str, dict[str, str]]] = []  # those that are posted: where to, and what they begin with
        self.title = ""
        self._headings = 0
        self._labels: set[str] = set()
        self._filled_in: list[dict[str, str]] = []
        self._ids: Counter[str] = Counter()
        self._pointed_at: set[str] = set()
        self._language = ""
        self._inline: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._any(tag, given)
        match tag:
            case "a":
                self.links.append(given.get("href", ""))
            case "h1":
                self._headings += 1
            case "form" if given.get("method", "").lower() == "post":
                self.forms.append((given.get("action", ""), {}))
            case "html":
                self._language = given.get("lang", "")
            case "style":
                self._inline.append("<style>")
            case "script" if "src" not in given:
                self._inline.append("<script>")
            case "label":
                self._labels.add(given.get("for", ""))
            case "input" | "select" | "textarea" | "button":
                self._field(tag, given)

    def _any(self, tag: str, given: dict[str, str]) -> None:
        if tag not in WITHOUT_END:
            self._open.append(tag)
        if "id" in given:
            self._ids[given["id"]] += 1
        self._inline += [f"<{tag} {name}>" for name in given if name == "style" or name.startswith("on")]
        for name in ("for", "aria-describedby", "aria-labelledby", "aria-controls"):
            self._pointed_at.update(given.get(name, "").split())

    def handle_endtag(self, tag: str) -> None:
        if tag in self._open:
            while self._open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if self._open == ["html", "head", "title"]:
            self.title += data

    def _field(self, tag: str, given: dict[str, str]) -> None:
        if given.get("name"):
            self.fields.setdefault(given["name"], given.get("value", ""))
            if "form" in self._open and self.forms:
                self.forms[-1][1].setdefault(given["name"], given.get("value", ""))
        if tag != "button" and given.get("type") not in NOT_FILLED_IN:
            self._filled_in.append(given | {"inside": "label" if "label" in self._open else ""})

    def _is_named(self, field: dict[str, str]) -> bool:
        return field.get("id") in self._labels or any(
            field.get(name) for name in ("inside", "aria-label", "aria-labelledby")
        )

    @property
    def wrong(self) -> list[str]:
        """What no page of ours may be like, in words."""
        found = [f"{each} in the page itself" for each in self._inline]
        found += [f"no label for {field.get('name')}" for field in self._filled_in if not self._is_named(field)]
        found += [f"{number} times the id {one}" for one, number in self._ids.items() if number > 1]
        found += [f"something points at {one}, which is not there" for one in sorted(self._pointed_at - set(self._ids))]
        if self._headings != 1:
            found.append(f"{self._headings} first headings")
        if not self.title.partition("·")[0].strip():
            found.append("no title of its own")
        if not self._language:
            found.append("no language")
        return found

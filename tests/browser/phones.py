"""Short ways to make a check on a phone, and to look at what it keeps."""

import contextlib
import io
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from PIL import Image
from PIL.ExifTags import GPS, IFD, Base
from playwright.sync_api import Page, expect

from kitshare.checks.models import CheckLine, HandoverCheck, Outcome, Photo
from kitshare.upkeep.models import Fault
from tests.checks.sheets import picture


def ready(phone, booking) -> None:
    """Open a booking with signal, and wait until its checks are kept."""
    phone.go(f"/bookings/{booking.pk}/")
    expect(phone.page.get_by_text("ready for a yard without signal")).to_be_visible(timeout=20_000)


def kept_pages(page: Page) -> list[str]:
    """The addresses of the pages that this phone keeps, for whomever."""
    return page.evaluate(
        """async () => {
          const found = [];
          for (const name of await caches.keys()) {
            if (!name.startsWith("kitshare-pages-")) continue;
            for (const one of await (await caches.open(name)).keys()) found.push(new URL(one.url).pathname);
          }
          return found;
        }"""
    )


def part(page: Page, name: str):
    return page.get_by_role("group", name=name).first


def tick(page: Page, *names: str) -> None:
    """Sound and all here."""
    for name in names:
        part(page, name).get_by_text("Sound and all here").click()


def differs(page: Page, name: str, condition: str):
    """Not all right, and how it looks; the part, to say more of it."""
    one = part(page, name)
    one.get_by_text("Not all right").click()
    one.get_by_text(condition, exact=True).click()
    return one


def on_its_side(size: tuple[int, int]) -> bytes:
    """As a phone's camera writes it: held upright, stored lying, with the place where it was taken."""
    image = Image.new("RGB", size, "saddlebrown")
    notes = image.getexif()
    notes[Base.Orientation] = 6
    notes[Base.Model] = "a camera"
    notes.get_ifd(IFD.GPSInfo)[GPS.GPSLatitude] = (47.0, 0.0, 0.0)
    kept = io.BytesIO()
    image.save(kept, "JPEG", exif=notes)
    assert b"Exif" in kept.getvalue()
    return kept.getvalue()


def kept_bytes(page: Page) -> bytes:
    """The one photo that the phone keeps, byte for byte."""
    kept = page.evaluate(
        """() => new Promise((resolve) => {
          indexedDB.open("kitshare").onsuccess = ({ target: { result: base } }) => {
            base.transaction("photos").objectStore("photos").getAll().onsuccess = ({ target: { result: all } }) => {
              base.close();
              resolve(all.map((one) => [...new Uint8Array(one.data)]));
            };
          };
        })"""
    )
    assert len(kept) == 1
    return bytes(kept[0])


def photograph(one, size=(1200, 800), *, noise: bool = False, lying: bool = False) -> None:
    """Take a photo of a part; of noise, which hardly packs, it takes much room."""
    content = on_its_side(size) if lying else picture(size)
    if noise:
        kept = io.BytesIO()
        Image.effect_noise((1600, 1600), 200).convert("RGB").save(kept, "JPEG", quality=95)
        content = kept.getvalue()
    photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": content}
    one.get_by_label("Take a photo").set_input_files(photo)


def photo_word(one, words: str) -> None:
    expect(one.locator("[data-photo-word]")).to_have_text(words, timeout=15_000)


def sign(page: Page, name: str = "Sunniva Okparadine") -> None:
    page.get_by_label("Your name").fill(name)
    page.get_by_label("borrower: I sign for the village").check()


def panel(page: Page, words: str) -> None:
    """What the phone says of the check once it is signed."""
    expect(page.locator("[data-phone-panel]")).to_contain_text(words, timeout=15_000)


def wait_until(page: Page, holds: Callable[[], bool]) -> None:
    for _turn in range(60):
        if holds():
            return
        page.wait_for_timeout(250)
    assert holds()


def send_until(page: Page, words: str) -> None:
    """Press "Send now" again and again, as people do, until the phone says these words."""
    for _turn in range(60):
        if words in page.locator("[data-phone-panel]").inner_text():
            return
        page.evaluate("document.querySelector('[data-phone-panel] button')?.click()")
        page.wait_for_timeout(250)
    panel(page, words)


def line(page: Page, words: str) -> None:
    """What the phone says at the foot of the sheet while it is being ticked."""
    expect(page.locator("[data-phone-line]")).to_have_text(words)


def written() -> tuple[int, int, int, int]:
    """Handovers, lines, photos at a line, and faults, as they are in the book."""
    return (
        HandoverCheck.objects.filter(outcome=Outcome.HANDED_OVER).count(),
        CheckLine.objects.count(),
        Photo.objects.filter(lines__isnull=False).count(),
        Fault.objects.count(),
    )


@dataclass
class Line:
    """A poor line between a phone and the site: it breaks where it is told to, once for each telling.

    `cut_after` breaks what the phone sends to `path` after so many bytes; `lose_answer` lets all of it arrive and breaks
    before the answer.
    """

    site: str
    cut_after: dict[str, int] = field(default_factory=dict)
    lose_answer: set[str] = field(default_factory=set)
    broken: list[str] = field(default_factory=list)

    def __enter__(self) -> "Line":
        place = urlsplit(self.site)
        self._there = (place.hostname, place.port)
        self._door = socket.create_server(("127.0.0.1", 0))
        threading.Thread(target=self._answer, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._door.close()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._door.getsockname()[1]}"

    def _answer(self) -> None:
        while True:
            try:
                near, _from = self._door.accept()
            except OSError:
                return
            threading.Thread(target=self._carry, args=(near,), daemon=True).start()

    def _carry(self, near: socket.socket) -> None:
        """One request for each connection, so that a break is of that one alone."""
        with near:
            head, body = self._begun(near)
            if not head:
                return
            path = head.split(b" ")[1].decode()
            posts = head.startswith(b"POST")
            cut = self.cut_after.pop(path, None) if posts else None
            with socket.create_connection(self._there) as there:
                there.sendall(head.replace(b"Connection: keep-alive", b"Connection: close") + body[:cut])
                if cut is None:
                    threading.Thread(target=self._pour, args=(near, there), daemon=True).start()
                if posts and path in self.lose_answer:
                    there.recv(1)
                    self.lose_answer.discard(path)
                    cut = 0
                if cut is None:
                    self._pour(there, near)
                else:
                    self.broken.append(path)
                for end in (there, near):
                    with contextlib.suppress(OSError):
                        end.shutdown(socket.SHUT_RDWR)

    @staticmethod
    def _begun(near: socket.socket) -> tuple[bytes, bytes]:
        """The head of a request, and what came of its body along with it."""
        whole = b""
        while b"\r\n\r\n" not in whole:
            more = near.recv(65_536)
            if not more:
                return b"", b""
            whole += more
        head, _end, body = whole.partition(b"\r\n\r\n")
        return head + b"\r\n\r\n", body

    @staticmethod
    def _pour(giver: socket.socket, taker: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while more := giver.recv(65_536):
                taker.sendall(more)

"""Short ways to get a phone ready, and to look at what it keeps."""

from playwright.sync_api import Page


def ready(phone, booking) -> None:
    """Open a booking with signal, and wait until its checks are kept."""
    phone.go(f"/bookings/{booking.pk}/")
    phone.sees("ready for a yard without signal")


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

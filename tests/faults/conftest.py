"""What goes wrong around a site. Processes and servers are a test's own."""

from tests.web.bookings.conftest import clock, send, typed

__all__ = ["clock", "send", "typed"]

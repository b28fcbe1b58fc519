from tests.bookings.test_seasons import booking  # noqa: F401

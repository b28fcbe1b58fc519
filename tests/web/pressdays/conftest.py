"""The same booking, containers and day as for the actions."""

from tests.pressdays.conftest import add_kind, booking, bottle, box, call_off, out_booking, record_day, save

__all__ = ["add_kind", "booking", "bottle", "box", "call_off", "out_booking", "record_day", "save"]

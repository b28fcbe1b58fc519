"""The same booking and containers as for the actions."""

from tests.pressdays.conftest import add_kind, booking, bottle, box, call_off, save

__all__ = ["add_kind", "booking", "bottle", "box", "call_off", "save"]

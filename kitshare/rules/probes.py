"""Probe thermometers: what the ice point and the boiling point say about one, and how its readings
are put right.
"""

from dataclasses import dataclass
from enum import StrEnum

from kitshare.rules.heat import HeatLog
from kitshare.rules.water import boiling_point, boiling_point_at, require_between

WITHIN_C = 1.0
"""A probe further off than this at either point is used with care (common practice; food
inspectors' rule of thumb).
"""

USELESS_OVER_C = 15.0
"""Further off than this at either point, no correction can be trusted (our choice)."""

OLD_AFTER_DAYS = 365
"""A check older than this is said in the verdict (common practice, no source: once before each
season).
"""


class ProbeRemark(StrEnum):
    """What a verdict must say about the probe behind it."""

    NEVER_CHECKED = "probe_never_checked"
    CHECK_OLD = "probe_check_old"
    ONE_POINT_ONLY = "probe_checked_at_one_point"
    OFF_BY_MORE = "probe_off_by_more_than_one_degree"


class ProbeUnusable(ValueError):
    """The two points lie so close together, or so far off, that no correction can be trusted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeCheck:
    """Readings in crushed ice and in boiling water, either of which may be missing, at an altitude
    or a pressure.

    `pressure_hpa` goes before `altitude_m` where both are given. `age_days` is the age of the check
    on the day of use.
    """

    ice_reading_c: float | None = None
    boiling_reading_c: float | None = None
    altitude_m: float = 0.0
    pressure_hpa: float | None = None
    age_days: int = 0

    @property
    def boiling_c(self) -> float:
        """Temperature at which water boiled there. Raises `OutOfRange`."""
        return boiling_point_at(self.altitude_m) if self.pressure_hpa is None else boiling_point(self.pressure_hpa)

    @property
    def off_c(self) -> dict[str, float]:
        """By the name of each reading that there is, how far off it was: -3.0 where it read 3 degrees low.

        Boiling water is compared with its boiling point at that altitude or pressure, never with 100 C: a perfect probe
        at 300 m reads 99.0. Raises `OutOfRange`.
        """
        pairs = (
            ("ice_reading_c", self.ice_reading_c, 0.0),
            ("boiling_reading_c", self.boiling_reading_c, self.boiling_c),
        )
        return {name: reading - true for name, reading, true in pairs if reading is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """True temperature = gain * reading + offset_c. `remarks` go into every verdict that uses it."""

    gain: float = 1.0
    offset_c: float = 0.0
    remarks: tuple[ProbeRemark, ...] = ()

    def true_celsius(self, reading_c: float) -> float:
        """Correct one reading."""
        return self.gain * reading_c + self.offset_c

    def applied_to(self, heat_log: HeatLog) -> HeatLog:
        """Correct a whole log."""
        if self.gain == 1.0 and self.offset_c == 0.0:
            return heat_log
        gain, offset = self.gain, self.offset_c
        return HeatLog(minutes=heat_log.minutes, celsius=tuple(gain * c + offset for c in heat_log.celsius))


UNCHECKED = Correction(remarks=(ProbeRemark.NEVER_CHECKED,))
"""For a probe that nobody has put in ice or boiling water: readings as they are, and the verdict
says so.
"""


def correction(check: ProbeCheck | None) -> Correction:
    """Two-point correction from ice (0 C) and boiling water, or an offset from one of them.

    Raises `ProbeUnusable` where a point is more than 15 C off, `OutOfRange` for the altitude.
    """
    if check is None or (check.ice_reading_c is None and check.boiling_reading_c is None):
        return UNCHECKED
    errors = list(check.off_c.values())
    if not all(abs(error) <= USELESS_OVER_C for error in errors):
        raise ProbeUnusable(f"the probe is {max(errors, key=abs):+.1f} C off: mend or replace it")
    remarks = [ProbeRemark.OFF_BY_MORE] if any(abs(error) > WITHIN_C for error in errors) else []
    if check.age_days > OLD_AFTER_DAYS:
        remarks.append(ProbeRemark.CHECK_OLD)
    if check.ice_reading_c is None or check.boiling_reading_c is None:
        remarks.append(ProbeRemark.ONE_POINT_ONLY)
        return Correction(offset_c=-errors[0], remarks=tuple(remarks))
    gain = check.boiling_c / (check.boiling_reading_c - check.ice_reading_c)
    return Correction(gain=gain, offset_c=-gain * check.ice_reading_c, remarks=tuple(remarks))


def known_offset(offset_c: float) -> Correction:
    """Take somebody's word that this many degrees are to be added to every reading, -15 to 15.
    Raises `OutOfRange`.
    """
    require_between("offset_c", offset_c, -USELESS_OVER_C, USELESS_OVER_C)
    remarks = (ProbeRemark.OFF_BY_MORE,) if abs(offset_c) > WITHIN_C else ()
    return Correction(offset_c=offset_c, remarks=remarks)

"""What a heater gives and loses, by records of baths that it heated up: for planning, never a verdict.

Integrated, the balance of `heating` is T - T0 = P/C t - U/C (integral of T - air): linear in the two unknowns, power P
and loss U, and kinder to noise than slopes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from math import fsum, sqrt

from kitshare.rules.heat import HeatLog
from kitshare.rules.heating import Heater
from kitshare.rules.water import require_between

LEAST_READINGS = 4


class FitImpossible(ValueError):
    """The readings do not tell power and losses: too few, or no rise in them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatedUp:
    """Readings while a load of known heat capacity got warmer in air of a temperature."""

    log: HeatLog
    kj_per_k: float
    air_c: float = 15.0

    def __post_init__(self) -> None:
        """Refuse a load that is none, with `OutOfRange`."""
        require_between("kj_per_k", self.kj_per_k, 0.01, 1e6)

    @property
    def tells(self) -> bool:
        """Whether there are readings enough, and a rise."""
        return len(self.log.minutes) >= LEAST_READINGS and self.log.celsius[-1] > self.log.celsius[0]

    def columns(self) -> tuple[list[float], list[float], list[float]]:
        """By reading: seconds per capacity, integral of T - air per capacity, kelvin risen."""
        log = self.log
        seconds = [60 * (minute - log.minutes[0]) for minute in log.minutes]
        above = [celsius - self.air_c for celsius in log.celsius]
        area = [0.0]
        for i in range(1, len(seconds)):
            area.append(area[-1] + (seconds[i] - seconds[i - 1]) * (above[i] + above[i - 1]) / 2)
        rise = [celsius - log.celsius[0] for celsius in log.celsius]
        return [s / self.kj_per_k for s in seconds], [a / self.kj_per_k for a in area], rise


SETTLING_LAGS = 3.0
"""So many lags after the start the middle of the bottle rises as the bath does, only later (a twentieth is left)."""

SHORT_OF_TARGET_K = 8.0
"""A probe in a bottle trails the bath by about this much (0.7 kelvin a minute, ten minutes of lag): what it shows
nearer to the target is the bath being held back by its thermostat, not its heater (our choice)."""


def rising(log: HeatLog, *, lag: float, target_c: float) -> HeatLog:
    """The part of a bottle's record in which heater and losses alone set the pace; may be empty.

    From three lags after the first reading (minutes) to the last reading before it comes near the target or turns.
    """
    minutes: list[float] = []
    celsius: list[float] = []
    for minute, temperature in zip(log.minutes, log.celsius, strict=True):
        if minute < log.minutes[0] + SETTLING_LAGS * lag:
            continue
        if temperature > target_c - SHORT_OF_TARGET_K or (celsius and temperature < celsius[-1] - 1.0):
            break
        minutes.append(minute)
        celsius.append(temperature)
    return HeatLog(minutes=tuple(minutes), celsius=tuple(celsius))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A heater as its own records show it, and by how many kelvin they stray from the fit (root mean square)."""

    heater: Heater
    strays_k: float


def fitted(record: HeatLog, *, kj_per_k: float, air_c: float = 15.0) -> Fitted:
    """Fit power and losses to one record. Raises what `fitted_to` raises."""
    return fitted_to([HeatedUp(log=record, kj_per_k=kj_per_k, air_c=air_c)])


def fitted_to(records: Sequence[HeatedUp]) -> Fitted:
    """Fit power and losses to records of one heater together, by least squares over all their readings.

    A loss below zero becomes none. Raises `FitImpossible` where a record has fewer than four readings or no rise, or
    there is none; `OutOfRange` for a heater that cannot be.
    """
    if not records or not all(record.tells for record in records):
        raise FitImpossible("four readings of a bath that gets warmer are the least")
    seconds, area, rise = (list(chain(*parts)) for parts in zip(*(record.columns() for record in records), strict=True))
    tt, ta, aa = _dot(seconds, seconds), _dot(seconds, area), _dot(area, area)
    tr, ar = _dot(seconds, rise), _dot(area, rise)
    determinant = tt * aa - ta * ta
    power, loss = tr / tt, 0.0
    if determinant > 1e-9 * tt * aa:
        power, loss = (tr * aa - ar * ta) / determinant, (tr * ta - ar * tt) / determinant
        if loss < 0:
            power, loss = tr / tt, 0.0
    strays = [r - power * s + loss * a for r, s, a in zip(rise, seconds, area, strict=True)]
    return Fitted(heater=Heater(kw=power, loss_w_per_k=1000 * loss), strays_k=sqrt(_dot(strays, strays) / len(strays)))


def _dot(first: Sequence[float], second: Sequence[float]) -> float:
    return fsum(a * b for a, b in zip(first, second, strict=True))

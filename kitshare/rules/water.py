"""Water, juice and boiling: the physics that the heating rules stand on.

Floats throughout: these are properties of matter, not things counted or bought. Temperatures are
degrees Celsius, densities kilograms per litre, heat capacities kilojoules per kilogram and kelvin,
pressures hectopascals.
"""

from bisect import bisect_right
from math import sqrt

ICE_KG_PER_LITRE = 0.917
"""Density of ice at 0 C (handbook value): water at 20 C grows by about nine per cent as it freezes.
"""

GLASS_VOLUME_PER_K = 2.7e-5
"""Growth in volume of soda-lime glass per kelvin: three times its linear 9e-6 (handbook value, from
memory).
"""

TYPICAL_BRIX = 12.0
"""Sugar of an ordinary pressing of mixed apples, per cent by mass (common practice, no source)."""

# IAPWS-IF97, region 1, at 0.101325 MPa, every five degrees from 0 to 95 C. The tests compare every
# entry with an independent implementation of the formulation.
_STEP_C = 5.0
_WATER_KG_PER_M3 = (
    999.844, 999.967, 999.702, 999.101, 998.206, 997.048, 995.652, 994.039, 992.224, 990.223,
    988.047, 985.707, 983.211, 980.566, 977.779, 974.857, 971.803, 968.622, 965.319, 961.895,
)  # fmt: skip
_WATER_KJ_PER_KG_K = (
    4.2194, 4.2049, 4.1954, 4.1891, 4.1848, 4.1819, 4.1800, 4.1789, 4.1786, 4.1788,
    4.1796, 4.1809, 4.1828, 4.1852, 4.1881, 4.1915, 4.1955, 4.2000, 4.2050, 4.2106,
)  # fmt: skip

# IAPWS-IF97, region 4 (R7-97, table 34): coefficients of the saturation line.
_N1, _N2, _N3, _N4, _N5 = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
)
_N6, _N7, _N8, _N9, _N10 = (
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


class OutOfRange(ValueError):
    """A value lies outside the range in which the formula holds."""

    def __init__(self, quantity: str, value: float, low: float, high: float) -> None:
        """Keep the quantity, the value and the range, so that a page can put them into words."""
        super().__init__(f"{quantity} {value:g} is outside {low:g} to {high:g}")
        self.quantity = quantity
        self.value = value
        self.low = low
        self.high = high


def require_between(quantity: str, value: float, low: float, high: float) -> None:
    """Raise `OutOfRange` unless low <= value <= high; a value that is not a number is outside every
    range.
    """
    if not low <= value <= high:
        raise OutOfRange(quantity, value, low, high)


def _interpolated(table: tuple[float, ...], celsius: float) -> float:
    grid = [i * _STEP_C for i in range(len(table))]
    i = min(bisect_right(grid, celsius) - 1, len(table) - 2)
    share = (celsius - grid[i]) / _STEP_C
    return table[i] + share * (table[i + 1] - table[i])


def water_density(celsius: float) -> float:
    """Density of liquid water in kg/L at 0 to 95 C and one atmosphere, within 0.00004 of
    IAPWS-IF97.

    Raises `OutOfRange` elsewhere.
    """
    require_between("celsius", celsius, 0.0, 95.0)
    return _interpolated(_WATER_KG_PER_M3, celsius) / 1000.0


def water_heat_capacity(celsius: float) -> float:
    """Heat capacity of liquid water in kJ/(kg K) at 0 to 95 C, within 0.002 of IAPWS-IF97. Raises
    `OutOfRange`.
    """
    require_between("celsius", celsius, 0.0, 95.0)
    return _interpolated(_WATER_KJ_PER_KG_K, celsius)


def brix_from_gravity(specific_gravity: float) -> float:
    """Sugar in per cent by mass from specific gravity 20/20 C, for 1.000 to 1.179 (0 to 40 Bx).

    The cubic fit to the sucrose table of the US National Bureau of Standards. Raises `OutOfRange`.
    """
    require_between("specific gravity", specific_gravity, 1.0, 1.179)
    sg = specific_gravity
    return max(0.0, ((182.46007 * sg - 775.68212) * sg + 1262.7794) * sg - 669.56218)


def gravity_from_brix(brix: float) -> float:
    """Specific gravity 20/20 C from sugar in per cent by mass (0 to 40): the inverse of
    `brix_from_gravity`.

    Bisection, because the cubic rises throughout the range. Raises `OutOfRange`.
    """
    require_between("brix", brix, 0.0, 40.0)
    low, high = 1.0, 1.179
    for _ in range(60):
        middle = (low + high) / 2
        if brix_from_gravity(middle) < brix:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _volume_shape(brix: float, celsius: float) -> float:
    # Additive volumes of water and dissolved carbohydrate, the latter after Choi and Okos (1986):
    # 1599.1 - 0.31046 T kg/m3. Only its ratio between two temperatures is used: the level comes
    # from the sugar table.
    sugar = brix / 100
    return (1 - sugar) / (1000 * water_density(celsius)) + sugar / (1599.1 - 0.31046 * celsius)


def juice_density(celsius: float, brix: float = TYPICAL_BRIX) -> float:
    """Density of juice in kg/L at 0 to 95 C and 0 to 40 Bx. Raises `OutOfRange`.

    The value at 20 C is the sucrose table's; its change with temperature is the additive volume of
    water (IAPWS-IF97) and carbohydrate (Choi and Okos, 1986). Their water density is not used: it
    grows a fifth too little.
    """
    at_20 = gravity_from_brix(brix) * water_density(20.0)
    return at_20 * _volume_shape(brix, 20.0) / _volume_shape(brix, celsius)


def juice_heat_capacity(celsius: float, brix: float = TYPICAL_BRIX) -> float:
    """Heat capacity of juice in kJ/(kg K) by Choi and Okos (1986), for 0 to 95 C and 0 to 40 Bx.
    Raises `OutOfRange`.

    Siebel's older rule gives two per cent less. The larger is used, because a heating time that is
    too short is the mistake that hurts.
    """
    require_between("celsius", celsius, 0.0, 95.0)
    require_between("brix", brix, 0.0, 40.0)
    sugar = brix / 100
    water = 4.1762 - 9.0864e-5 * celsius + 5.4731e-6 * celsius**2
    carbohydrate = 1.5488 + 1.9625e-3 * celsius - 5.9399e-6 * celsius**2
    return (1 - sugar) * water + sugar * carbohydrate


def siebel_heat_capacity(moisture: float) -> float:
    """Heat capacity in kJ/(kg K) above freezing from the water share by mass (0 to 1), after Siebel
    (1892).
    """
    require_between("moisture", moisture, 0.0, 1.0)
    return 0.837 + 3.348 * moisture


def juice_growth(from_celsius: float, to_celsius: float, brix: float = TYPICAL_BRIX) -> float:
    """Growth in volume of juice between two temperatures as a fraction (0.0245 is 2.45 %). Raises
    `OutOfRange`.
    """
    return juice_density(from_celsius, brix) / juice_density(to_celsius, brix) - 1


def freezing_growth(brix: float = 0.0) -> float:
    """Growth in volume from 20 C to ice as a fraction, taking all the water as frozen (the cautious
    end).

    Water grows by 8.9 %; dissolved sugar does not grow, so juice grows a little less.
    """
    require_between("brix", brix, 0.0, 40.0)
    water_share_by_volume = (1 - brix / 100) * juice_density(20.0, brix) / water_density(20.0)
    return water_share_by_volume * (water_density(20.0) / ICE_KG_PER_LITRE - 1)


def air_pressure(altitude_m: float) -> float:
    """Pressure in hPa of the International Standard Atmosphere (ISO 2533) at -500 to 5,000 m.
    Raises `OutOfRange`.
    """
    require_between("altitude_m", altitude_m, -500.0, 5000.0)
    exponent = 9.80665 / (287.05287 * 0.0065)
    return float(1013.25 * (1 - 0.0065 * altitude_m / 288.15) ** exponent)


def boiling_point(pressure_hpa: float) -> float:
    """Temperature at which water boils at 500 to 1,100 hPa: IAPWS-IF97 backward equation for region
    4 (equation 31).

    Raises `OutOfRange`.
    """
    require_between("pressure_hpa", pressure_hpa, 500.0, 1100.0)
    beta = (pressure_hpa / 10_000) ** 0.25
    e = beta**2 + _N3 * beta + _N6
    f = _N1 * beta**2 + _N4 * beta + _N7
    g = _N2 * beta**2 + _N5 * beta + _N8
    d = 2 * g / (-f - sqrt(f**2 - 4 * e * g))
    kelvin = (_N10 + d - sqrt((_N10 + d) ** 2 - 4 * (_N9 + _N10 * d))) / 2
    return float(kelvin - 273.15)


def boiling_point_at(altitude_m: float) -> float:
    """Temperature at which water boils in the standard atmosphere at an altitude in metres. Raises
    `OutOfRange`.

    Weather moves it by a degree: where a barometer is at hand, use `boiling_point` with the true
    pressure.
    """
    return boiling_point(air_pressure(altitude_m))

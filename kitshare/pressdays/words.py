"""The rules' codes and numbers as sentences, for pages, commands and print alike."""

from collections.abc import Callable

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from kitshare.rules.batch_codes import LENGTH, CodeProblem, CodeRefused
from kitshare.rules.containers import Refusal, RefusalCode
from kitshare.rules.heat import Organism
from kitshare.rules.heat_verdict import Reason, ReasonCode, Remedy
from kitshare.rules.outlook import Caution
from kitshare.rules.pressday import Station
from kitshare.rules.readings import LogProblem, LogRefused


def _number(value: float | None, places: int = 1) -> str:
    """A number as the reader writes it, without a tail of zeros."""
    text = f"{value or 0.0:.{places}f}"
    return str(number_format(text.rstrip("0").rstrip(".") if "." in text else text))


def reason(found: Reason) -> str:
    """Why a hold is not shown, or what must be said beside one that is."""
    places = 2 if found.code in (ReasonCode.PH_OVER_TABLES, ReasonCode.PH_CAUTION) else 1
    return _REASONS[found.code]() % {"seen": _number(found.seen, places), "wanted": _number(found.wanted, places)}


_REASONS: dict[ReasonCode, Callable[[], str]] = {
    ReasonCode.TOO_FEW_READINGS: lambda: _("There are too few readings (%(seen)s) to show anything."),
    ReasonCode.NEVER_REACHED: lambda: _("%(wanted)s °C was never reached: the hottest reading is %(seen)s °C."),
    ReasonCode.HOLD_TOO_SHORT: lambda: _(
        "The longest hold without a break is %(seen)s minutes, and %(wanted)s are recommended."
    ),
    ReasonCode.GAP_IN_READINGS: lambda: _(
        "Readings lie up to %(seen)s minutes apart, and what lies more than %(wanted)s minutes apart is not counted."
    ),
    ReasonCode.PH_OVER_TABLES: lambda: _(
        "The pH is %(seen)s: the published tables end at %(wanted)s, so they show nothing for this juice."
    ),
    ReasonCode.PH_CAUTION: lambda: _("The pH is %(seen)s: from %(wanted)s up juice asks for more care."),
    ReasonCode.PH_NOT_MEASURED: lambda: _("The pH was not measured; the published tables cover %(wanted)s and below."),
    ReasonCode.PROBE_NEVER_CHECKED: lambda: _("The probe was never checked in ice and in boiling water."),
    ReasonCode.PROBE_CHECK_OLD: lambda: _("The probe was last checked more than a year ago."),
    ReasonCode.PROBE_ONE_POINT: lambda: _("The probe was checked at one point only, in ice or in boiling water."),
    ReasonCode.PROBE_OFF: lambda: _("The probe is more than one degree off; its readings were corrected."),
}


def remedy(found: Remedy) -> str:
    """What one can do now."""
    return _REMEDIES[found]()


_REMEDIES: dict[Remedy, Callable[[], str]] = {
    Remedy.HEAT_AGAIN: lambda: _("Heat the batch again for the full time, from the start."),
    Remedy.KEEP_COLD_AND_DRINK_SOON: lambda: _("Or keep it in a refrigerator and drink it within days."),
    Remedy.FREEZE: lambda: _("Or freeze it, with room to grow."),
    Remedy.READ_MORE_OFTEN: lambda: _("Read the probe more often next time."),
    Remedy.CHECK_PROBE: lambda: _("Check the probe in crushed ice and in boiling water."),
    Remedy.MEASURE_PH: lambda: _("Measure the pH of the juice."),
    Remedy.ASK_FOOD_ADVICE: lambda: _("Ask the scheme's food adviser or the local food authority."),
}


def organism(found: Organism) -> str:
    """The name of what heat is asked to kill."""
    return _ORGANISMS[found]()


_ORGANISMS: dict[Organism, Callable[[], str]] = {
    Organism.CRYPTOSPORIDIUM: lambda: _("Cryptosporidium parvum, a parasite of cattle"),
    Organism.E_COLI_O157: lambda: _("Escherichia coli O157:H7, a bacterium of cattle"),
}


def log_refusal(refused: LogRefused) -> str:
    """Why a log of readings cannot be taken, with its line."""
    sentence = _PROBLEMS[refused.problem]() % {"value": refused.value}
    if refused.line is None:
        return sentence
    return _("Line %(line)s: %(sentence)s") % {"line": refused.line, "sentence": sentence}


_PROBLEMS: dict[LogProblem, Callable[[], str]] = {
    LogProblem.EMPTY: lambda: _("There is nothing in this log."),
    LogProblem.BINARY: lambda: _("This is not text; save the log as CSV and try again."),
    LogProblem.TOO_LONG: lambda: _("This log is too long: half a million readings are the most."),
    LogProblem.NO_READINGS: lambda: _("No line has a time and a temperature."),
    LogProblem.NO_TIME_COLUMN: lambda: _("No column holds times: “%(value)s”."),
    LogProblem.NO_TEMPERATURE_COLUMN: lambda: _("No column holds temperatures: “%(value)s”."),
    LogProblem.UNEVEN_ROW: lambda: _("“%(value)s” has fewer columns than the lines above."),
    LogProblem.BAD_TIME: lambda: _("“%(value)s” is not a time like the others."),
    LogProblem.BAD_TEMPERATURE: lambda: _("“%(value)s” is not a temperature."),
    LogProblem.OUT_OF_BOUNDS: lambda: _(
        "%(value)s is no temperature of juice: readings lie between -20 and 120 °C. Is the probe's lead broken?"
    ),
    LogProblem.BACKWARDS: lambda: _("The time runs backwards by %(value)s minutes."),
    LogProblem.UNIT_UNKNOWN: lambda: _(
        "Is this Celsius or Fahrenheit? Nothing in the log says so, and it goes up to %(value)s."
    ),
    LogProblem.TIME_UNIT_UNKNOWN: lambda: _(
        "Are the times minutes or seconds? Nothing in the log says so, and they span %(value)s."
    ),
    LogProblem.DECIMALS_UNCLEAR: lambda: _(
        "Is “%(value)s” a decimal comma or a third column? Put semicolons between the columns."
    ),
}


def code_refusal(refused: CodeRefused) -> str:
    """Why a code stands on no bottle, and what to look at again."""
    words = {"signs": " ".join(refused.signs), "length": LENGTH, "count": len(refused.signs)}
    return _CODES[refused.problem]() % words


_CODES: dict[CodeProblem, Callable[[], str]] = {
    CodeProblem.EMPTY: lambda: _("Type the code that stands on the bottle."),
    CodeProblem.LENGTH: lambda: _(
        "A code has %(length)s signs, and this has %(count)s. Look for one left out or double."
    ),
    CodeProblem.SIGN: lambda: _(
        "Our codes have no %(signs)s: figures that look like letters are left out. Look at that sign again."
    ),
    CodeProblem.CHECK: lambda: _(
        "A sign is mistyped, or two have changed places: these do not fit together. Compare them with the bottle."
    ),
}


def container_refusal(found: Refusal) -> str:
    """Why a kind of container may not hold the juice."""
    numbers = {
        "has": _number(float(found.has or 0), 2),
        "wanted": _number(float(found.wanted or 0), 2),
        "has_percent": _number(100 * float(found.has or 0)),
        "wanted_percent": _number(100 * float(found.wanted or 0)),
    }
    return _CONTAINERS[found.code]() % numbers


_CONTAINERS: dict[RefusalCode, Callable[[], str]] = {
    RefusalCode.NOT_FOOD_GRADE: lambda: _("it is not food grade"),
    RefusalCode.GLAZE_DISSOLVES: lambda: _("acid dissolves glaze"),
    RefusalCode.STEEL_CORRODES: lambda: _("bare steel corrodes"),
    RefusalCode.LIMIT_UNDER_HEAT: lambda: _("it bears %(has)s °C and the juice will be %(wanted)s °C"),
    RefusalCode.LIMIT_UNKNOWN: lambda: _("nobody has said what heat it bears"),
    RefusalCode.HEADSPACE_TOO_SMALL: lambda: _(
        "it leaves %(has_percent)s %% of room and the juice needs %(wanted_percent)s %%"
    ),
}


def caution(found: Caution, about: str) -> str:
    """What a village should hear beside the numbers of a plan."""
    return _CAUTIONS[found]() % {"about": about}


_CAUTIONS: dict[Caution, Callable[[], str]] = {
    Caution.NO_RECORDED_DAYS: lambda: _(
        "The yield is the published range: no press day of this scheme stands behind it yet."
    ),
    Caution.COOL_BATH_FIRST: lambda: _(
        "Before each later batch, cool the bath to %(about)s °C: cold glass cracks in hotter water."
    ),
    Caution.JUICE_WAITS_LONG: lambda: _(
        "Filled juice waits up to %(about)s hours for the heat: keep it cold, freeze some, or bring a second bath."
    ),
    Caution.LONG_DAY: lambda: _("The work takes %(about)s hours: plan a second day, less fruit or more machines."),
    Caution.HEAVY_CONTAINER: lambda: _("%(about)s is too heavy for one person when full: lift it by two."),
    Caution.GLASS_IN_FROST: lambda: _("%(about)s is glass and may crack in frost: straight sides, and room to grow."),
}


def station(found: Station) -> str:
    """The name of a station."""
    return _STATIONS[found]()


_STATIONS: dict[Station, Callable[[], str]] = {
    Station.WASH: lambda: _("washing"),
    Station.MILL: lambda: _("milling"),
    Station.PRESS: lambda: _("pressing"),
    Station.FILL: lambda: _("filling"),
    Station.HEAT: lambda: _("heating"),
    Station.CLEAN: lambda: _("cleaning"),
}

"""Which machine is spoken for on which day: by what is here already, and by the rows of the file itself."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from django.utils.translation import gettext as _

from kitshare.bookings import days
from kitshare.bookings.models import BookedDay, DayKind, Season
from kitshare.bookings.words import day_in_words, machines_in_words
from kitshare.bringing.meaning import Standing, Verdict
from kitshare.kits.models import Machine
from kitshare.rules import periods
from kitshare.rules.periods import Period

Place = tuple[int, date]
AT_ONCE = 5_000
LONGEST_CARE = timedelta(days=15)


class DayTable:
    """Read once for all rows; then each row takes its days in it, or is told who has them."""

    def __init__(self, verdicts: Sequence[Verdict], *, seasons: Sequence[Season], today: date) -> None:
        self.today = today
        self.seasons = seasons
        self.taken: dict[Place, int] = {}
        self.claimed: dict[Place, tuple[Verdict, DayKind]] = {}
        asked = [one for one in verdicts if one.standing == Standing.MAKE and one.period]
        if asked:
            self._load(
                {machine.pk for one in asked for machine in one.machines}, [one.period for one in asked if one.period]
            )

    def _load(self, machines: Iterable[int], wanted: Sequence[Period]) -> None:
        first = min(period.start for period in wanted)
        last = max(period.end for period in wanted)
        for season in self.seasons:  # those beyond the season too: the nearest free days are looked for in it
            if season.opens_on <= last and season.closes_on >= first:
                first, last = min(first, season.opens_on), max(last, season.closes_on)
        rows = BookedDay.objects.filter(machine__in=list(machines), day__range=(first, last + LONGEST_CARE))
        for key, machine, day in rows.values_list("pk", "machine_id", "day"):
            self.taken[machine, day] = key

    def settle(self, verdicts: Sequence[Verdict]) -> None:
        """Give each row its days, or mark it as a clash. First the days out, then the cleaning after them."""
        standing = [one for one in verdicts if one.standing == Standing.MAKE]
        in_the_way: list[tuple[Verdict, list[int]]] = []
        for one in standing:
            held = [key for place in self._places(one) if (key := self.taken.get(place))]
            others = self._claimed_by_others(one)
            if held:
                in_the_way.append((one, held))
            if others:
                one.refuse(Standing.CLASH, *others)
            if not held and not others:
                self.claimed |= dict.fromkeys(_booked(one, self.today), (one, DayKind.BOOKED))
        self._say_who(in_the_way)
        for one in standing:
            self._claim_care(one)

    def nearest(self, one: Verdict) -> list[Period]:
        """The free days nearest to those of a row that is still to come, beside all other rows of the file."""
        if one.period is None or not one.is_ahead(self.today):
            return []
        season = next((season for season in self.seasons if season.period.contains(one.period.start)), None)
        if season is None:
            return []
        keys = {machine.pk for machine in one.machines}
        own = {place for place, (other, _kind) in self.claimed.items() if other is one}
        taken = {day for machine, day in (self.taken.keys() | self.claimed.keys()) - own if machine in keys}
        return periods.nearest_free_spells(
            wanted=one.period,
            taken=taken,
            season=season.period,
            not_before=self.today,
            care_days=max(machine.kit.care_days for machine in one.machines),
        )

    def _places(self, one: Verdict) -> Iterator[Place]:
        """The days that must be free: those out, and those of the cleaning too where the machines are still held."""
        yield from _booked(one, self.today)
        if one.holds:
            yield from _care(one, self.today)

    def _claimed_by_others(self, one: Verdict) -> list[str]:
        others: defaultdict[int, list[Place]] = defaultdict(list)
        for place in _booked(one, self.today):
            if place in self.claimed:
                others[self.claimed[place][0].row.place].append(place)
        machines = {machine.pk: machine for machine in one.machines}
        return [_sharing(number, places, machines) for number, places in others.items()]

    def _say_who(self, in_the_way: Sequence[tuple[Verdict, list[int]]]) -> None:
        keys = sorted({key for _one, held in in_the_way for key in held})
        rows = BookedDay.objects.select_related("machine", "booking__village", "spell")
        found: dict[int, BookedDay] = {}
        for start in range(0, len(keys), AT_ONCE):  # an engine takes so many values in one question, and no more
            found |= {row.pk: row for row in rows.filter(pk__in=keys[start : start + AT_ONCE])}
        for one, held in in_the_way:
            ours = sorted((found[key] for key in held if key in found), key=lambda row: (row.day, row.machine_id))
            one.refuse(Standing.CLASH, *map(str, days.as_holdings(ours)))

    def _claim_care(self, one: Verdict) -> None:
        """The cleaning after a booking that is held must not meet another row; after one that is over it may."""
        places = list(_care(one, self.today))
        if one.holds and one.standing == Standing.MAKE:
            for place in places:
                other, kind = self.claimed.get(place, (one, DayKind.CARE))
                if other is not one and kind == DayKind.BOOKED:
                    words = {"row": other.row.place, "day": day_in_words(place[1])}
                    sentence = _("Row %(row)d goes out on %(day)s, while the kit is cleaned and dried after this one.")
                    one.refuse(Standing.CLASH, sentence % words)
                    return
        if one.standing == Standing.MAKE:
            for place in places:
                if place not in self.taken:
                    self.claimed.setdefault(place, (one, DayKind.CARE))


def _booked(one: Verdict, today: date) -> Iterator[Place]:
    booked = one.booked_days(today)
    return ((machine.pk, day) for machine in one.machines for day in booked)


def _care(one: Verdict, today: date) -> Iterator[Place]:
    return ((machine.pk, day) for machine in one.machines for day in one.care_days(machine, today))


def _sharing(number: int, places: Sequence[Place], machines: dict[int, Machine]) -> str:
    names = machines_in_words(machines[key] for key in dict.fromkeys(machine for machine, _day in places))
    words = {"row": number, "machines": names, "day": day_in_words(places[0][1])}
    return _("Row %(row)d has %(machines)s on %(day)s too.") % words

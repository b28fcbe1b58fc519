"""What of the season is shown: all of it, or one machine, one village, one stage. The address alone says so."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.translation import gettext as _

from kitshare.bookings.models import Stage
from kitshare.kits.models import Machine
from kitshare.people.models import Village
from kitshare.web.forms import LONGEST_KEY

# Declined and called-off bookings hold no days; those that wait hold the days that are offered to them.
STAGES: Final = (Stage.WAITING, Stage.ASKED, Stage.AGREED, Stage.OUT, Stage.BACK, Stage.CLOSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """Zero and the empty word stand for "any"."""

    machine: int = 0
    village: int = 0
    stage: str = ""

    def __bool__(self) -> bool:
        return bool(self.machine or self.village or self.stage)

    def fit(self, *, village: int, stage: str) -> bool:
        """Whether a booking of some machine that is shown is among those shown too."""
        return (not self.village or village == self.village) and (not self.stage or stage == self.stage)

    def among(self, machines: Iterable[Machine]) -> list[Machine]:
        """The machines that are shown."""
        return [machine for machine in machines if self.machine in (0, machine.pk)]

    @property
    def chosen(self) -> dict[str, str]:
        """What an address says, without what it need not say."""
        pairs = {"machine": self.machine, "village": self.village, "stage": self.stage}
        return {name: str(value) for name, value in pairs.items() if value}

    def address(self, path: str, **more: str) -> str:
        """An address that keeps them."""
        query = urlencode({name: value for name, value in more.items() if value} | self.chosen)
        return f"{path}?{query}" if query else path

    def in_words(self, *, machines: Iterable[Machine], villages: Mapping[int, str]) -> list[str]:
        """Each in a few words. No query, unless the village has nothing among what is shown."""
        words = []
        if self.machine:
            name = next((machine.name for machine in machines if machine.pk == self.machine), "")
            words.append(name or _("a machine that is not there"))
        if self.village:
            village = villages.get(self.village) or Village.objects.filter(pk=self.village).first()
            words.append(str(village) if village else _("a village that is not there"))
        if self.stage:
            words.append(_("bookings %(stage)s") % {"stage": Stage(self.stage).label})
        return words


def read_filters(query: QueryDict) -> Filters:
    """What an address asks for; whatever cannot be is passed over."""
    stage = query.get("stage", "")
    return Filters(
        machine=_key(query.get("machine", "")),
        village=_key(query.get("village", "")),
        stage=stage if stage in STAGES else "",
    )


def _key(text: str) -> int:
    return int(text) if re.fullmatch(rf"[0-9]{{1,{LONGEST_KEY}}}", text) else 0

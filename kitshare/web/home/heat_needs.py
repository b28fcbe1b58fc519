"""What needs a coordinator because of heat: batches of the last days that are not shown to be held."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.pressdays import recalls
from kitshare.web.home.need import Need

LOUD_FOR: Final = timedelta(days=14)  # by then the juice is drunk, frozen or heated again; the list of recalls keeps it


def of_batches(today: date) -> Iterator[Need]:
    """Bottles of which the village should have heard what to do."""
    count = recalls.proposed(today - LOUD_FOR).count()
    if count:
        text = ngettext(
            "%(count)s batch of the last two weeks is not shown to be held. Does its village know what to do with it?",
            "%(count)s batches of the last two weeks are not shown to be held. Do their villages know what to do?",
            count,
        )
        yield Need(
            rank=3,
            tone="care",
            word=_("not shown to be held"),
            text=text % {"count": count},
            address=reverse("heat:recalls"),
            deed=_("See the batches"),
        )

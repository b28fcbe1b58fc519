"""Water hoses of the earlier season: some came back split and were replaced, so that what they last can be reckoned."""

from typing import Any, Final

from kitshare.bookings.models import Booking
from kitshare.demonstration.telling import ONE_DAY, Teller
from kitshare.people.models import Member
from kitshare.rules.checklists import Condition
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault

HOSE: Final = "Water hose"
# Outings of the earlier season, by their number.
CAME_BACK: Final[dict[int, tuple[int, Condition, str]]] = {
    6: (1, Condition.WORN, "Stiff, and kinked near the tap."),
    9: (1, Condition.DAMAGED, "Split beside the tap."),
    10: (1, Condition.DAMAGED, "A cart went over it."),
    11: (1, Condition.WORN, ""),
    14: (1, Condition.DAMAGED, "Burst at noon; we carried water in buckets."),
    18: (1, Condition.DAMAGED, "Frozen overnight, and split in three places."),
}


def hose_after(number: int) -> dict[str, tuple[int, Condition, str]]:
    """How the hose came back from an outing, where it was not sound."""
    return {HOSE.replace(" ", "_"): CAME_BACK[number]} if number in CAME_BACK else {}


def replace_hose(teller: Teller, booking: Booking) -> None:
    """Teodor fits a new hose the day after, where one came back split."""
    teodor = Member.objects.get(name="Teodor Haskerby")
    split = Fault.objects.open().filter(part__name=HOSE, machine__in=booking.machines.all())
    signed: dict[str, Any] = {"by": teodor, "at": teller.moment(booking.back_on + ONE_DAY)}
    for fault in split.order_by("pk"):
        mended = upkeep.mend_fault(fault=fault, note="A new hose.", revision=fault.revision, **signed)
        upkeep.release_fault(fault=mended, retest_note="Holds the pressure.", revision=mended.revision, **signed)

"""What the invented scheme's press days go by, and one village that has planned its day whole."""

from datetime import datetime
from decimal import Decimal
from typing import Final

from kitshare.bookings.models import Booking
from kitshare.people import press_terms
from kitshare.people.models import Member, Scheme
from kitshare.people.terms import SanitiserChoice
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.rules.containers import Use

BOTTLE, BUCKET, FERMENTER = "0.75 L glass bottle, re-used", "10 L bucket with lid, for fresh juice", "25 L fermenter"
LENT: Final = {BOTTLE: 96, FERMENTER: 4}


def settle(*, scheme: Scheme, by: Member, at: datetime) -> None:
    """The usual kinds of container, some of them lent, and the scheme's figures."""
    for kind in containers.add_starter_kinds(by=by, at=at):
        if kind.name in LENT:
            containers.change_container_kind(kind=kind, lent=LENT[kind.name], by=by, at=at)
    press_terms.change_press_terms(
        scheme=scheme,
        bushel_kg=Decimal("21.8"),
        fruit_words="Mixed windfalls\nBramble crabs\nGarden dessert apples\nPears",
        sanitiser=SanitiserChoice.CHLORINE.value,
        sanitiser_percent=Decimal("5.25"),
        kwh_price=Decimal("0.320"),
        currency="marks",
        pomace_to="To the Pellowmeres' sheep at Upper Larkenhoe, the same evening; what they do not want goes on the"
        " heap behind the Old Goods Shed.",
        by=by,
        at=at,
    )


def plan(booking: Booking, *, by: Member, at: datetime) -> None:
    """Most of the juice heated in glass, some drunk fresh, some for the barrel; half of the bottles are there."""
    kinds = {kind.name: kind for kind in ContainerKind.objects.in_use()}
    parts = ((Use.HEATED, BOTTLE, 60), (Use.FRESH, BUCKET, 25), (Use.TO_FERMENT, FERMENTER, 15))
    wanted = Wanted(
        parts=tuple(Part(use=use, kind=kinds[name], percent=percent) for use, name, percent in parts),
        at_hand={kinds[BOTTLE]: 120, kinds[BUCKET]: 2},
        fruit_word="Mixed windfalls",
        sorted_out_percent=5,
    )
    pressdays.save_plan(booking=booking, wanted=wanted, by=by, at=at)

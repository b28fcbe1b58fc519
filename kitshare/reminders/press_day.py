"""What a village brings for its press day, as a letter says it: by its saved plan, or that there is none yet."""

from django.conf import settings
from django.urls import reverse

from kitshare.bookings.models import Booking
from kitshare.people.models import Scheme
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.planning import ahead_of
from kitshare.pressdays.provisions import provisions_for
from kitshare.pressdays.wanted import wanted_for
from kitshare.reminders.occasions import Words
from kitshare.rules.sizing_terms import OutOfRange


def to_bring(booking: Booking, *, scheme: Scheme) -> Words:
    """The containers and the other things of the saved plan. Some ten queries a letter."""
    address = settings.SITE_ADDRESS.rstrip("/") + reverse("pressdays:plan", args=[booking.pk])
    wanted = wanted_for(booking, ContainerKind.objects.order_by("position", "pk"))
    if wanted.plan is None:
        return {"plan_address": address}
    try:
        ahead = ahead_of(booking, scheme=scheme, wanted=wanted)
        needs = provisions_for(ahead, machines=list(booking.machines.all()), scheme=scheme)
    except OutOfRange:  # fruit that no day could press: the page says what is wrong with it
        return {"plan_address": address}
    return {
        "plan_address": address,
        "ahead": ahead,
        "containers": [one for one in ahead.to_bring if one.number],
        "needs": needs,
        "sacks": needs.pomace_most.sacks,
    }

"""Asking for machines and changing what was asked: the form, the page to look it over, and then the deed.

Each page carries all that was typed, so that nothing is kept on the server until it is sent and nothing is lost.
"""

import contextlib
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.bookings import actions as bookings
from kitshare.bookings import days, eligibility, recording, times, waiting
from kitshare.bookings.models import Booking, FruitUnitChoice
from kitshare.bookings.refusals import BookingRefused, ChangedMeanwhile, MachineTaken
from kitshare.bookings.waiting_refusals import DaysAreFree
from kitshare.kits.models import Kit
from kitshare.people.models import Member, Village
from kitshare.upkeep import fitness
from kitshare.web.access import PageRequest
from kitshare.web.bookings.facts import tests_first
from kitshare.web.bookings.following import village_before
from kitshare.web.bookings.forms import (
    BookingForm,
    ChangeBookingForm,
    NewBookingForm,
    as_initial,
    initial_of,
    spell_choice,
)
from kitshare.web.pressdays.first_look import FirstLook, first_look
from kitshare.web.waiting.forms import WaitForm

WEEKENDS = 4
# Buttons that go back to the form, as it is, without judging it.
STAYS_ON_THE_FORM = {"weekends", "edit"}
FIELD_OF = {"days": "out_on"}

Check = Callable[[dict[str, Any]], None]
Act = Callable[[dict[str, Any]], Booking]


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: PageRequest) -> HttpResponse:
    """Ask for machines over some days."""
    member = request.user
    if not member.may_ask:
        raise PermissionDenied(_("Borrowers and coordinators book. Ask a coordinator to book for you."))
    pairs = _pairs(member)
    if not pairs:
        return render(request, "bookings/no_village.html")
    given = _given(pairs=pairs, by=member)
    today = timezone.localdate()

    def check(cleaned: dict[str, Any]) -> None:
        asked = {name: cleaned[name] for name in ("village", "borrower", "period")}
        eligibility.check_can_book(**asked, machines=cleaned["chosen"], by=member, today=today)
        days.check_is_free(machines=cleaned["chosen"], period=cleaned["period"], today=today)
        _check_times(cleaned)

    def act(cleaned: dict[str, Any]) -> Booking:
        whose = {name: cleaned[name] for name in ("village", "borrower")}
        form_key = cleaned["key"]
        booking = bookings.book_kit(**whose, **_wanted(cleaned), **_signed(request), form_key=form_key)
        messages.success(request, _("Sent. The days are held for %(village)s.") % {"village": booking.village.name})
        return booking

    def wait(cleaned: dict[str, Any]) -> Booking:
        whose = {name: cleaned[name] for name in ("village", "borrower", "play_days")}
        booking = waiting.wait_for_days(**whose, **_wanted(cleaned), **_signed(request), form_key=cleaned["key"])
        messages.success(request, _("%(village)s is on the waiting list.") % {"village": booking.village.name})
        return booking

    page = {"title": _("Book machines"), "lead": _("Tick what you need, choose the days, look it over, send it.")}
    if request.method != "POST":
        usual = {"out_time": request.our_scheme.out_time, "back_time": request.our_scheme.back_time}
        form = NewBookingForm(initial=usual | as_initial(NewBookingForm, request.GET), **given)
        if len(pairs) == 1:
            form.initial.setdefault("for_whom", next(iter(form.pairs)))
        return _form_page(request, form, page=page)
    return _step(request, NewBookingForm, given, check=check, act=act, wait=wait, page=page)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: PageRequest, pk: int) -> HttpResponse:
    """Change days, machines, fruit or note of a booking whose kit has not left."""
    booking = get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)
    try:
        eligibility.check_can_change(booking=booking, by=request.user)
    except BookingRefused as refusal:
        messages.warning(request, str(refusal))
        return redirect("bookings:show", pk=booking.pk)
    today = timezone.localdate()

    def check(cleaned: dict[str, Any]) -> None:
        machines, period = cleaned["chosen"], cleaned["period"]
        recording.check_revision(booking=booking, revision=cleaned["revision"])
        eligibility.check_can_move(booking=booking, machines=machines, period=period, today=today)
        days.check_is_free(machines=machines, period=period, today=today, besides=booking)
        _check_times(cleaned, booking)

    def act(cleaned: dict[str, Any]) -> Booking:
        revision = cleaned["revision"]
        changed = bookings.change_booking(booking=booking, **_wanted(cleaned), **_signed(request), revision=revision)
        is_same = changed.revision == revision
        messages.success(request, _("Nothing was different, so nothing was changed.") if is_same else _("Changed."))
        return changed

    page = {"title": _("Change the booking"), "lead": _("What you leave as it is stays as it is."), "booking": booking}
    if request.method != "POST":
        form = ChangeBookingForm(initial=initial_of(booking), **_given())
        return _form_page(request, form, page=page)
    return _step(request, ChangeBookingForm, _given(), check=check, act=act, page=page)


def _step(
    request: PageRequest,
    form_class: type[BookingForm],
    given: dict[str, Any],
    *,
    check: Check,
    act: Act,
    wait: Act | None = None,
    page: dict[str, Any],
) -> HttpResponse:
    """One press of a button: back to the form, on to the page to look it over, sent, or on the waiting list."""
    page = page | {
        "wait_form": WaitForm(request.POST if request.POST.get("deed") == "wait" else None) if wait else None
    }
    typed = request.POST.copy()
    _choose_instead(typed)
    if typed.get("deed") in STAYS_ON_THE_FORM and not typed.get("instead"):
        return _form_page(request, form_class(initial=as_initial(form_class, typed), **given), page=page)
    form = form_class(typed, **given)
    if form.is_valid():
        try:
            bookings.weigh(amount=form.cleaned_data["fruit_amount"], unit=form.cleaned_data["fruit_unit"])
            if typed.get("deed") == "send":
                return redirect("bookings:show", pk=act(form.cleaned_data).pk)
            if wait and page["wait_form"].is_valid():
                with contextlib.suppress(DaysAreFree):
                    return redirect("bookings:show", pk=wait(form.cleaned_data | page["wait_form"].cleaned_data).pk)
            check(form.cleaned_data)
        except MachineTaken as refusal:
            return _taken_page(request, form, refusal, page=page)
        except ChangedMeanwhile as refusal:
            typed["revision"] = str(refusal.revision)
            page = page | {"changed": refusal}
            return _form_page(
                request, form_class(initial=as_initial(form_class, typed), **given), page=page, status=409
            )
        except BookingRefused as refusal:
            name = FIELD_OF.get(refusal.field or "", refusal.field)
            form.add_error(name if name in form.fields else None, str(refusal))
        else:
            return _look_over_page(request, form, page=page)
    return _form_page(request, form, page=page)


def _choose_instead(typed: QueryDict) -> None:
    """Other days chosen with one tap where those wanted are taken; and the wish for a relay goes into the note."""
    if typed.get("instead"):
        typed["spell"] = str(typed["instead"])
        if typed.get("wish"):
            typed["note"] = f"{typed.get('note', '')}\n{typed['wish']}".strip()


def _form_page(request: PageRequest, form: BookingForm, *, page: dict[str, Any], status: int = 200) -> HttpResponse:
    ticked = form.ticked()
    booking = page.get("booking")
    form.offer(days.next_weekends(machines=ticked, today=timezone.localdate(), count=WEEKENDS, besides=booking))
    return render(request, "bookings/form.html", page | {"form": form, "ticked": ticked}, status=status)


def _look_over_page(request: PageRequest, form: BookingForm, *, page: dict[str, Any]) -> HttpResponse:
    cleaned = form.cleaned_data
    amount, kg = bookings.weigh(amount=cleaned["fruit_amount"], unit=cleaned["fruit_unit"])
    shown = {
        "kept": _kept(form),
        "asked": cleaned,
        "times": _times(cleaned, page.get("booking")),
        "unit": FruitUnitChoice(cleaned["fruit_unit"]).label,
        "amount": amount,
        "kg": kg,
        "look": _first_look(cleaned, kg, page.get("booking")),
        "by_kit": sorted(cleaned["chosen"], key=lambda machine: (machine.kit.name, machine.position, machine.pk)),
        "tests_first": tests_first(cleaned["chosen"], cleaned["period"].start, timezone.localdate()),
        "waits_again": _waits_again(request.user, page.get("booking"), cleaned),
    }
    return render(request, "bookings/look_over.html", page | shown)


def _first_look(cleaned: dict[str, Any], kg: Decimal, booking: Booking | None) -> FirstLook:
    return first_look(
        booking=booking,
        village=booking.village if booking else cleaned["village"],
        period=cleaned["period"],
        machines=cleaned["chosen"],
        fruit_kg=kg,
    )


def _taken_page(
    request: PageRequest, form: BookingForm, refusal: MachineTaken, *, page: dict[str, Any]
) -> HttpResponse:
    nearest = [spell_choice(period) for period in refusal.nearest]
    shown = {"kept": _kept(form), "refusal": refusal, "nearest": nearest, "asked": form.cleaned_data}
    shown["before"] = village_before(refusal, form.cleaned_data)
    return render(request, "bookings/taken.html", page | shown, status=409)


def _kept(form: BookingForm) -> list[tuple[str, str]]:
    """Everything typed, to be sent along unseen by the next page."""
    typed = form.data
    assert isinstance(typed, QueryDict)  # noqa: S101
    return [(name, value) for name in form.fields for value in typed.getlist(name)]


def _waits_again(member: Member, booking: Booking | None, cleaned: dict[str, Any]) -> bool:
    """Whether an agreed booking goes back to being asked, since its borrower moves it."""
    if booking is None or booking.stage != "agreed" or member.coordinates:
        return False
    chosen = {machine.pk for machine in cleaned["chosen"]}
    return cleaned["period"] != booking.period or chosen != {machine.pk for machine in booking.machines.all()}


def _wanted(cleaned: dict[str, Any]) -> dict[str, Any]:
    names = ("period", "out_time", "back_time", "fruit_amount", "fruit_unit", "note")
    return {"machines": cleaned["chosen"]} | {name: cleaned[name] for name in names}


def _check_times(cleaned: dict[str, Any], booking: Booking | None = None) -> None:
    meets = _times(cleaned, booking)
    times.check_in_order(machines=cleaned["chosen"], period=cleaned["period"], **meets, besides=booking)


def _times(cleaned: dict[str, Any], booking: Booking | None) -> dict[str, Any]:
    """When people meet: as typed, else as it was, else as usual."""
    out_time, back_time = cleaned["out_time"], cleaned["back_time"]
    if booking is not None:
        return {"out_time": out_time or booking.out_time, "back_time": back_time or booking.back_time}
    out_time, back_time = times.usual(out_time, back_time)
    return {"out_time": out_time, "back_time": back_time}


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now(), "today": timezone.localdate()}


def _given(**more: Any) -> dict[str, Any]:
    """The kits on offer, and which machines are set aside for what."""
    kits = Kit.objects.in_use().with_machines().order_by("name", "pk")
    set_aside = {machine_key: faults[0].note for machine_key, faults in fitness.faults_by_machine().items()}
    return {"kits": list(kits), "set_aside": set_aside} | more


def _pairs(member: Member) -> list[tuple[Village, Member]]:
    """For which villages a member may ask, and who may sign: themselves, or any borrower if a coordinator asks."""
    villages = Village.objects.of(member).order_by("name", "pk")
    if not member.coordinates:
        return [(village, member) for village in villages]
    return [
        (village, borrower)
        for village in villages.prefetch_related("borrowers")
        for borrower in sorted(village.borrowers.all(), key=lambda borrower: (borrower.name, borrower.pk))
        if borrower.is_active
    ]

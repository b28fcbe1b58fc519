"""The small deeds of which a story is told: each is done through the actions, at the time when it would have been."""

import io
import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import F
from PIL import Image, ImageDraw

from kitshare.bookings import actions as bookings
from kitshare.bookings import relays, waiting
from kitshare.bookings.models import BookedDay, Booking, Season
from kitshare.bookings.relay_models import Relay
from kitshare.checks import actions as checks
from kitshare.checks.lines import PartSeen
from kitshare.checks.models import HandoverCheck, SignedRole
from kitshare.checks.recording import Signature
from kitshare.kits.models import Kit, Machine, Part
from kitshare.outbox.models import Channel, Message
from kitshare.people.models import Member, Village
from kitshare.rules.checklists import Condition
from kitshare.rules.periods import Period, nearest_free_spells

ONE_DAY = timedelta(days=1)


def at_nine(day: date) -> datetime:
    return datetime.combine(day, time(9), tzinfo=UTC)


@dataclass(slots=True, kw_only=True)
class Teller:
    """Tells one season. `now` is the moment at which the story arrives; nothing in it is later."""

    season: Season
    coordinator: Member
    now: datetime
    _villages: dict[str, Village] = field(default_factory=dict)

    def village(self, name: str) -> Village:
        if name not in self._villages:
            self._villages[name] = Village.objects.get(name=name)
        return self._villages[name]

    def moment(self, day: date) -> datetime:
        return min(at_nine(day), self.now)

    def ask(self, name: str, kit: Kit, near: date, *, days: int = 2, kg: int = 400, on: date | None = None) -> Booking:
        """A village asks for a kit on the free days nearest to one day; asked on `on`, else twelve days before."""
        machines = list(Machine.objects.in_use().filter(kit=kit))
        asked_on = min(on or near - 12 * ONE_DAY, self.now.date())
        spell = self._free(machines, Period(start=near, end=near + days * ONE_DAY), kit.care_days)
        village = self.village(name)
        borrower = village.borrowers.order_by("pk")[0]
        return bookings.book_kit(
            village=village,
            borrower=borrower,
            machines=machines,
            period=spell,
            fruit_amount=Decimal(kg),
            fruit_unit="kg",
            note="",
            by=borrower,
            at=self.moment(asked_on),
            today=min(asked_on, spell.start),
        )

    def wait(self, name: str, taken: Booking, *, kg: int, on: date, play_days: int = 0) -> Booking:
        """A village waits for the machines and days of somebody's booking."""
        village = self.village(name)
        borrower = village.borrowers.order_by("pk")[0]
        return waiting.wait_for_days(
            village=village,
            borrower=borrower,
            machines=list(taken.machines.all()),
            period=taken.period,
            play_days=play_days,
            fruit_amount=Decimal(kg),
            fruit_unit="kg",
            note="",
            by=borrower,
            at=self.moment(on),
            today=on,
        )

    def agree(self, booking: Booking) -> Booking:
        at = min(booking.asked_at + timedelta(hours=10), self.now)
        return bookings.agree(booking=booking, by=self.coordinator, at=at, today=at.date(), revision=booking.revision)

    def promised(self, name: str, kit: Kit, near: date, *, days: int = 2, kg: int = 400) -> Booking:
        return self.agree(self.ask(name, kit, near, days=days, kg=kg))

    def pickup(self, booking: Booking, *, photo_of: str = "") -> HandoverCheck:
        """Everything is there and sound, and one part may be photographed."""
        at = self.moment(booking.out_on)
        seen = [self._sound(booking, part, part.expected_count, photo_of, at) for part in self._parts(booking)]
        return checks.complete_pickup_check(
            booking=booking, seen=seen, signature=self._signature(booking), by=booking.borrower, at=at, today=at.date()
        )

    def bring_back(
        self, booking: Booking, *, on: date | None = None, **odd: tuple[int, Condition, str]
    ) -> HandoverCheck:
        """Everything is back and sound, but for parts named in `odd` (spaces written as underscores)."""
        at = self.moment(on or booking.back_on)
        seen = []
        for part in self._parts(booking):
            count, condition, note = odd.get(part.name.replace(" ", "_"), (part.expected_count, Condition.SOUND, ""))
            seen.append(PartSeen(part=part, count=count, condition=condition, note=note))
        return checks.complete_return_check(
            booking=booking, seen=seen, signature=self._signature(booking), by=booking.borrower, at=at, today=at.date()
        )

    def outing(
        self, name: str, kit: Kit, near: date, *, days: int = 2, kg: int = 400, **odd: tuple[int, Condition, str]
    ) -> Booking:
        """A booking from asking to closing, with nothing amiss but what `odd` says of the return."""
        booking = self.promised(name, kit, near, days=days, kg=kg)
        self.pickup(booking)
        self.bring_back(booking, on=None, **odd)
        return bookings.close(booking=booking, by=self.coordinator, at=self.moment(booking.back_on + ONE_DAY))

    def relay(self, first: Booking, second: Booking, *, carried_by: str, meet_at: str) -> Relay:
        """Let one village hand on to the next; the second keeps its day of return."""
        first.refresh_from_db()
        return relays.arrange_relay(
            first=first,
            second=second,
            period=Period(start=first.back_on, end=second.back_on),
            carried_by=carried_by,
            meet_at=meet_at,
            meet_time=time(8, 30),
            by=self.coordinator,
            at=self.now,
            today=self.now.date(),
            first_revision=first.revision,
            revision=second.revision,
        )

    def deliver(self, until: datetime) -> None:
        """Take what was written so far as told when it was due: the story is over, and nobody is mailed about it."""
        told = Message.objects.waiting().filter(due_at__lt=until)
        told.filter(channel=Channel.TELEPHONE).update(told_by_name=self.coordinator.name)
        told.update(sent_at=F("due_at") + timedelta(minutes=1))

    def _free(self, machines: list[Machine], wanted: Period, care_days: int) -> Period:
        taken = set(BookedDay.objects.filter(machine__in=machines).values_list("day", flat=True))
        spells = nearest_free_spells(
            wanted=wanted,
            taken=taken,
            season=self.season.period,
            not_before=self.season.opens_on,
            care_days=care_days,
            count=1,
        )
        return spells[0]

    def _parts(self, booking: Booking) -> list[Part]:
        return list(Part.objects.travelling().filter(machine__in=booking.machines.all()))

    def _sound(self, booking: Booking, part: Part, count: int, photo_of: str, at: datetime) -> PartSeen:
        photo = None
        if photo_of and part.name == photo_of:
            photo = checks.keep_photo(booking=booking, upload=_picture(part), by=booking.borrower, at=at)
        return PartSeen(part=part, count=count, condition=Condition.SOUND, photo=photo)

    def _signature(self, booking: Booking) -> Signature:
        return Signature(key=uuid.uuid4(), name=booking.borrower.name, role=SignedRole.BORROWER)


def _picture(part: Part) -> SimpleUploadedFile:
    """A drawing that stands for a photo: a pin with its number in a red tin."""
    image = Image.new("RGB", (1200, 900), "#7c8a83")
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((200, 180, 1000, 760), radius=60, fill="#a03038", outline="#5c1018", width=14)
    draw.rounded_rectangle((330, 420, 870, 500), radius=36, fill="#d8dcda", outline="#39423d", width=8)
    draw.ellipse((800, 400, 900, 520), fill="#b9c0bc", outline="#39423d", width=8)
    draw.text((520, 560), part.number or part.name, fill="#ffffff", font_size=110)
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=85)
    return SimpleUploadedFile("pin.jpg", kept.getvalue(), "image/jpeg")

"""A small invented scheme for tests: two kits, two villages, one season, and the people who matter.

Tests that care about the day take `today` and `now`: the first of September 2027, half past nine in the morning.
"""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Season
from kitshare.kits.models import Depot, Kit, KitShape, Machine, MachineKind, Part
from kitshare.people.models import Member, Scheme, Village
from kitshare.rules.checklists import PartKind
from kitshare.rules.periods import Period
from kitshare.upkeep import care, shelf_things
from kitshare.upkeep.care_models import CarePlan, CareRecord
from kitshare.upkeep.shelf_models import ShelfPlace

PASSWORD = "cloth and rack"


@pytest.fixture
def today() -> date:
    return date(2027, 9, 1)


@pytest.fixture
def now() -> datetime:
    return datetime(2027, 9, 1, 9, 30, tzinfo=UTC)


@pytest.fixture
def scheme(db) -> Scheme:
    return Scheme.objects.create(
        pk=1,
        name="Linnow Vale Pressing Share",
        telephone="01632 960 123",
        crate_kg=Decimal("16"),
        sack_kg=Decimal("25"),
    )


def _member(name: str, **roles: bool) -> Member:
    member = Member(
        name=name, email=f"{name.split(maxsplit=1)[0].lower()}@example.org", telephone="01632 960 200", **roles
    )
    member.set_password(PASSWORD)
    member.save()
    return member


@pytest.fixture
def perpetua(scheme) -> Member:
    """The coordinator."""
    return _member("Perpetua Quillstone", coordinates=True)


@pytest.fixture
def teodor(scheme) -> Member:
    """The maintenance volunteer."""
    return _member("Teodor Haskerby", maintains=True)


@pytest.fixture
def sunniva(scheme) -> Member:
    """Signs for Sorrelhythe."""
    return _member("Sunniva Okparadine", borrows=True)


@pytest.fixture
def leilani(scheme) -> Member:
    """Signs for Fennerlow."""
    return _member("Leilani Crabbwater", borrows=True)


@pytest.fixture
def sorrelhythe(sunniva) -> Village:
    village = Village.objects.create(name="Sorrelhythe")
    village.borrowers.add(sunniva)
    return village


@pytest.fixture
def fennerlow(leilani) -> Village:
    village = Village.objects.create(name="Fennerlow")
    village.borrowers.add(leilani)
    return village


@pytest.fixture
def season(scheme) -> Season:
    return Season.objects.create(name="Autumn 2027", opens_on=date(2027, 8, 15), closes_on=date(2027, 11, 30))


@pytest.fixture
def depot(scheme) -> Depot:
    return Depot.objects.create(name="Old Goods Shed, Withyhurn")


@pytest.fixture
def heron(depot) -> Kit:
    return Kit.objects.create(name="Heron", depot=depot, shape=KitShape.SQUARE, care_days=1)


@pytest.fixture
def otter(depot) -> Kit:
    return Kit.objects.create(name="Otter", depot=depot, shape=KitShape.ROUND, care_days=1)


@pytest.fixture
def mill(heron) -> Machine:
    return Machine.objects.create(kit=heron, name="Heron mill", kind=MachineKind.MILL, position=1)


@pytest.fixture
def press(heron) -> Machine:
    return Machine.objects.create(kit=heron, name="Heron press", kind=MachineKind.PRESS, position=2)


@pytest.fixture
def pasteuriser(heron) -> Machine:
    return Machine.objects.create(kit=heron, name="Heron pasteuriser", kind=MachineKind.PASTEURISER, position=3)


@pytest.fixture
def otter_mill(otter) -> Machine:
    return Machine.objects.create(kit=otter, name="Otter mill", kind=MachineKind.MILL, position=1)


@pytest.fixture
def drive_pin(mill) -> Part:
    return Part.objects.create(
        machine=mill,
        name="Drive pin",
        number="H1",
        kind=PartKind.VITAL,
        packed_in="Red tin, in the hopper",
        look_for="Straight, no burr, clip on its cord.",
        position=1,
    )


@pytest.fixture
def spare_pin(drive_pin, depot, teodor, now) -> ShelfPlace:
    """One spare drive pin on the shelf of the depot."""
    thing = shelf_things.add_thing(
        name="Drive pin, Heron mill",
        kind="spare",
        part=drive_pin,
        unit="piece",
        depot=depot,
        count=1,
        by=teodor,
        at=now,
    )
    return thing.places.get()


@pytest.fixture
def guard(mill) -> Part:
    return Part.objects.create(
        machine=mill,
        name="Feed guard",
        number="H2",
        kind=PartKind.GUARD,
        packed_in="Bolted on",
        caution="Nobody lifts, moves or starts the mill without it.",
        position=2,
    )


@pytest.fixture
def lead(mill) -> Part:
    return Part.objects.create(machine=mill, name="Mill lead", number="H3", kind=PartKind.ORDINARY, position=3)


@pytest.fixture
def cloths(press) -> Part:
    return Part.objects.create(
        machine=press, name="Cloths", number="H4", kind=PartKind.COUNTED, expected_count=12, position=1
    )


@pytest.fixture
def sanitiser(press) -> Part:
    return Part.objects.create(
        machine=press, name="Sanitiser sachets", number="H5", kind=PartKind.CONSUMABLE, expected_count=10, position=2
    )


@pytest.fixture
def plan_care(mill, teodor, now):
    """Plans a yearly electrical test of the mill, due on 10 September, unless told otherwise."""

    def plan_it(**changes: object) -> CarePlan:
        facts: dict[str, object] = {
            "machine": mill,
            "kind": "electrical",
            "name": "Electrical test",
            "every": 12,
            "unit": "months",
            "due_on": date(2027, 9, 10),
            "who": "",
            "caution": "",
        }
        return care.plan_care(**(facts | {"by": teodor, "at": now} | changes))

    return plan_it


@pytest.fixture
def record_care(teodor, now, today):
    """Records that a plan was done today and passed, unless told otherwise."""

    def record_it(plan: CarePlan, **changes: object) -> CareRecord:
        facts: dict[str, object] = {
            "done_on": today,
            "done_by_name": "Odile Marchbanks",
            "passed": True,
            "note": "",
            "next_due_on": None,
        }
        return care.record_care(plan=plan, **(facts | {"by": teodor, "at": now, "today": today} | changes))

    return record_it


@pytest.fixture
def signed_in(client):
    """A browser with somebody signed in: `signed_in(sunniva).get(...)`."""

    def sign_in(member: Member):
        client.force_login(member)
        return client

    return sign_in


@pytest.fixture
def agreed_booking(
    sorrelhythe, sunniva, perpetua, season, mill, press, drive_pin, guard, lead, cloths, sanitiser, now, today
):
    """The Heron mill and press, agreed for Sorrelhythe from today to Sat 4 Sep, with five parts to check."""
    booking = bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill, press],
        period=Period(start=today, end=date(2027, 9, 4)),
        fruit_amount=Decimal("20"),
        fruit_unit="crate",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)

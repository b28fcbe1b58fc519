"""What the press days of the demonstration gave: invented figures of about 0.5 to 0.6 litres from a kilogram."""

from datetime import timedelta
from decimal import Decimal

from kitshare.bookings.models import Booking
from kitshare.demonstration.telling import Teller
from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays import recording
from kitshare.pressdays.record_models import Given

# Of what was asked, how much was pressed, in hundredths; and litres from a kilogram, in hundredths.
PRESSED = (92, 104, 97, 88, 100)
YIELDS = (52, 58, 55, 60, 51, 57, 54)
BY_HAND = -3
FRUIT = ("Mixed windfalls", "Mixed windfalls", "Bramble crabs", "Garden dessert apples")
TWO_DAYS_FROM_KG = 450
LITRES_A_BATCH = 45
BOTTLES_A_LITRE, BOTTLES_COUNTED = 2, 3  # some villages count what broke, and most do not


def write_down(teller: Teller, booking: Booking, number: int) -> None:
    """A village writes down what its booking gave, over two days where there was much fruit; `number` varies it."""
    machines = list(booking.machines.order_by("position", "pk"))
    kg = int(booking.fruit_kg) * PRESSED[number % len(PRESSED)] // 100
    days = 2 if kg >= TWO_DAYS_FROM_KG and booking.period.end - booking.period.start > timedelta(days=1) else 1
    for offset in range(days):
        day = booking.out_on + timedelta(days=offset)
        recording.record_day(
            booking=booking,
            day=day,
            given=_given(kg // days, machines, number + 2 * offset),
            machines=machines,
            by=booking.borrower,
            at=teller.moment(booking.back_on),
            today=booking.back_on,
        )


def _given(kg: int, machines: list[Machine], number: int) -> Given:
    heats = any(machine.kind == MachineKind.PASTEURISER for machine in machines)
    litres = kg * (YIELDS[number % len(YIELDS)] + (0 if heats else BY_HAND)) // 100
    heated = litres * 3 // 5 if heats else 0
    to_ferment = litres // 5 if number % 3 == 0 else 0
    frozen = 0 if heats else litres // 4
    bottles = heated * BOTTLES_A_LITRE if number % BOTTLES_COUNTED == 0 else 0
    return Given(
        pressed_kg=Decimal(kg),
        waste_kg=Decimal(kg * (3 + number % 4) // 100),
        litres_fresh=Decimal(litres - heated - to_ferment - frozen),
        litres_frozen=Decimal(frozen),
        litres_heated=Decimal(heated),
        litres_to_ferment=Decimal(to_ferment),
        hours=Decimal(4 + kg // 100),
        helpers=4 + number % 5,
        batches=-(-heated // LITRES_A_BATCH) if heats else None,
        reused_brought=bottles or None,
        reused_broken=bottles * (1 + number % 4) // 100 if bottles else None,
        fruit=FRUIT[number % len(FRUIT)],
    )

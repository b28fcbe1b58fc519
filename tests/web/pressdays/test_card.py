"""The card for the yard: what stands on it, for whom, and that it holds no more than a page."""

import re
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from django.utils.html import strip_tags

from kitshare.kits.models import Machine
from kitshare.upkeep import actions as upkeep

pytestmark = pytest.mark.django_db


@pytest.fixture
def card(signed_in, sunniva, booking, bottle):
    """The card of 400 kg, all of it heated in bottles, as Sunniva reads it, with some machines."""

    def card(*machines, kg=400):
        booking.machines.set(machines)
        booking.fruit_kg = Decimal(kg)
        booking.save()
        text = signed_in(sunniva).get(reverse("pressdays:card", args=[booking.pk])).content.decode()
        return re.sub(r"\s+", " ", unescape(strip_tags(text)))

    return card


def test_everything_that_a_yard_asks_for_is_on_it(card, mill, press, pasteuriser, teodor):
    seen = card(mill, press, pasteuriser)

    assert "Cautions: local rules come first" in seen
    assert "The guard is on before anybody lifts, moves or starts the mill." in seen
    assert "Coordinator (Linnow Vale Pressing Share): 01632 960 123" in seen
    assert "Maintenance (Teodor Haskerby): 01632 960 200" in seen
    assert "Signs for the kit (Sunniva Okparadine): 01632 960 200" in seen
    # 220 litres expected, at half a gram a litre.
    assert "5 g in each 10 litres of juice, weighed, stirred in as it leaves the press; about 110 g in all." in seen
    assert re.search(r"\d+ × 0\.75 L glass bottle \(\d+ to fill, \d+ spare\)", seen)
    assert "1. 09:00" not in seen  # the list numbers itself
    assert seen.index("09:00 Set up.") < seen.index("09:30 Wash and sort.") < seen.index("Mill. Only as much")
    assert "When it shows 75 °C, count 20 minutes from then." in seen
    assert "Planned times are no verdict: only the probe tells." in seen


def test_the_log_has_each_batch_with_its_times(card, mill, press, pasteuriser, signed_in, sunniva, booking):
    card(mill, press, pasteuriser)
    text = signed_in(sunniva).get(reverse("pressdays:card", args=[booking.pk])).content.decode()
    rows = re.findall(
        r"<tr><th scope=\"row\">(\d+)</th><td>(\d+)</td><td>([\d:]+)</td><td>([\d:]+)</td><td>([\d:]+)</td>", text
    )

    assert [row[0] for row in rows] == ["1", "2", "3", "4", "5"]
    assert [row[1] for row in rows[:4]] == ["72"] * 4
    for _number, _bottles, goes_in, hot, out in rows:
        minutes = [60 * int(at[:2]) + int(at[3:]) for at in (goes_in, hot, out)]
        assert minutes[2] - minutes[1] == 20
        assert minutes[1] - minutes[0] > 30
    assert text.count('<td class="card-hand">') == 6 * 5  # the sixth row is for a batch that nobody planned


def test_the_log_says_of_which_kind_each_batch_is(
    card, mill, press, pasteuriser, add_kind, signed_in, sunniva, booking
):
    add_kind(
        "Litre bottle with a handle and a long neck",
        "1",
        fill_fraction=Decimal("0.96"),
        material="glass",
        usual_parts=30,
    )

    seen = card(mill, press, pasteuriser)

    assert "Each batch is of one kind, with its own times: A Litre bottle with a handle an…;" in seen
    assert "B 0.75 L glass bottle." in seen
    text = signed_in(sunniva).get(reverse("pressdays:card", args=[booking.pk])).content.decode()
    counts = re.findall(r'<th scope="row">\d+</th><td>(\d+)&nbsp;<strong>([AB])</strong></td>', text)
    assert [kind for _count, kind in counts] == ["A", "A", "B", "B", "B"]
    assert [count for count, _kind in counts][2:4] == ["72", "72"]


def test_of_more_than_six_kinds_the_log_names_six(card, mill, press, pasteuriser, add_kind):
    for place in range(6):
        add_kind(f"Bottle {place}", f"0.5{place}", fill_fraction=Decimal("0.96"), material="glass", usual_parts=10)
    seven = card(mill, press, pasteuriser)

    assert "F Bottle 1; more on the clock." in seven
    assert "G Bottle 0" not in seven


@pytest.mark.parametrize(
    ("kg", "rows", "more"), [(90, 6, None), (2_000, 18, "And 4 more batches"), (20_000, 18, "more batches")]
)
def test_the_log_never_outgrows_the_page(card, mill, press, pasteuriser, signed_in, sunniva, booking, kg, rows, more):
    seen = card(mill, press, pasteuriser, kg=kg)
    text = signed_in(sunniva).get(reverse("pressdays:card", args=[booking.pk])).content.decode()

    assert text.count('<th scope="row">') == rows
    assert more in seen if more else "more batch" not in seen


def test_only_what_is_there_is_warned_of_and_worked_with(card, press):
    Machine.objects.filter(pk=press.pk).update(power_watts=0)

    seen = card(press)

    assert "Hands stay out from under the plate" in seen
    for absent in ("starts the mill", "trip switch", "element", "heat log", "Mill. Only"):
        assert absent not in seen


def test_without_a_machine_the_card_still_has_its_telephones(card, heron):
    seen = card(Machine.objects.create(kit=heron, name="Trailer", kind="other"))

    assert "Telephone" in seen
    assert "Order of work" not in seen


def test_open_faults_stand_first_and_cut_short(card, mill, press, teodor, now):
    note = "The hopper hangs by one bolt. " * 40
    upkeep.report_fault(machine=mill, part=None, note=note, severity="use_with_care", by=teodor, at=now)

    seen = card(mill, press)

    assert "Heron mill: use with care. The hopper hangs by one bolt." in seen
    assert seen.count("one bolt") < 4


def test_the_card_is_for_the_village_and_for_those_who_run_things(signed_in, booking, leilani, teodor, bottle):
    page = reverse("pressdays:card", args=[booking.pk])

    assert signed_in(teodor).get(page).status_code == 200
    assert signed_in(leilani).get(page).status_code == 404

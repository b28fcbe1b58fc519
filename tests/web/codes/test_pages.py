"""Codes: where a scanned or typed one leads whom, what its card says and keeps quiet, and the sheet of labels."""

from datetime import date
from decimal import Decimal

import pytest
import zxingcpp
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from kitshare.bookings import actions as bookings
from kitshare.checks import actions as checks
from kitshare.kits import actions as kits
from kitshare.kits import coding
from kitshare.kits.code_models import Code
from kitshare.kits.models import Kit, Machine, MachineKind, Part
from kitshare.rules.periods import Period
from kitshare.web.codes.qr import Drawing, address_of, drawn
from tests.checks.conftest import all_sound, on_the_day, parts, pick_up, relay
from tests.checks.sheets import signed, sound
from tests.world import PASSWORD

__all__ = ["all_sound", "on_the_day", "parts", "pick_up", "relay"]


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def marked(agreed_booking, teodor, now):
    """The agreed booking of today, and codes for everything."""
    coding.make_codes(by=teodor, at=now)
    return agreed_booking


def code_of(thing) -> str:
    return reverse("codes:card", args=[coding.code_of(thing).text])


def tin(mill) -> str:
    return reverse("codes:card", args=[mill.codes.get(box_key="red tin, in the hopper").text])


def picture_of(qr: Drawing, scale: int = 6) -> Image.Image:
    """The drawing as a printer would put it on paper: its path filled square by square."""
    image = Image.new("L", (qr.side, qr.side), 255)
    for stroke in qr.path.split("M")[1:]:
        place, _, rest = stroke.partition("h")
        x, y = (int(number) for number in place.split())
        for step in range(int(rest.partition("v")[0])):
            image.putpixel((x + step, y), 0)
    return image.resize((qr.side * scale, qr.side * scale), Image.Resampling.NEAREST)


@pytest.mark.parametrize("site", ["http://127.0.0.1:8000", "https://kit.linnow-vale-pressing-share.example.org/"])
def test_an_independent_reader_reads_the_drawn_code(site, settings):
    settings.SITE_ADDRESS = site

    [read] = zxingcpp.read_barcodes(picture_of(drawn("K7M4Q4")))

    assert (read.text, read.format.name) == (address_of("K7M4Q4"), "QRCode")
    assert read.text == f"{site.rstrip('/')}/k/K7M4Q4/"


def test_a_member_with_a_booking_is_led_to_its_pickup_and_then_to_its_return(
    signed_in, sunniva, marked, heron, mill, drive_pin, guard, lead, cloths, sanitiser, now, today
):
    client = signed_in(sunniva)
    pickup, return_ = (reverse(f"checks:{name}", args=[marked.pk]) for name in ("pickup", "return"))

    assert {client.get(place).url for place in (code_of(heron), code_of(mill), tin(mill))} == {pickup}

    seen = sound(drive_pin, guard, lead, cloths, sanitiser)
    checks.complete_pickup_check(booking=marked, seen=seen, signature=signed(), by=sunniva, at=now, today=today)
    assert client.get(code_of(heron)).url == return_


def test_on_the_day_of_a_relay_whoever_takes_it_on_is_led_to_its_check(
    relay, on_the_day, signed_in, leilani, heron, teodor, now, monkeypatch
):
    coding.make_codes(by=teodor, at=now)
    monkeypatch.setattr("django.utils.timezone.now", lambda: on_the_day)

    assert signed_in(leilani).get(code_of(heron)).url == reverse("checks:relay", args=[relay.pk])


def test_who_has_no_booking_of_it_sees_the_card_and_no_village(signed_in, leilani, fennerlow, marked, heron):
    page = signed_in(leilani).get(code_of(heron)).content.decode()

    assert "No booking of yours" in page
    assert "Sorrelhythe" not in page


def test_a_booking_that_is_still_to_come_leads_nowhere_yet(
    signed_in, sunniva, perpetua, marked, heron, monkeypatch, now
):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now.replace(month=8, day=30))
    assert signed_in(sunniva).get(code_of(heron)).status_code == 200
    monkeypatch.setattr("django.utils.timezone.now", lambda: now.replace(month=8, day=31))
    assert signed_in(sunniva).get(code_of(heron)).status_code == 302


def test_a_stranger_reads_what_it_is_whom_to_call_and_what_to_mind_and_no_more(client, marked, heron, mill):
    mill.caution = "The blades cut while they stand still."
    mill.save()

    for place in (code_of(heron), code_of(mill), tin(mill)):
        answer = client.get(place)
        page = answer.content.decode()
        assert answer.status_code == 200
        assert "01632 960 123" in page
        assert "The blades cut while they stand still." in page
        assert f"{reverse('people:sign_in')}?next={place}" in page
        assert [word for word in ("Sorrelhythe", "Withyhurn", "Sunniva", "4 Sep", "1 Sep") if word in page] == []
        assert "no-store" in answer["Cache-Control"]


def test_after_signing_in_one_is_led_on_to_the_check(client, sunniva, marked, heron):
    place = code_of(heron)
    answer = client.post(
        f"{reverse('people:sign_in')}", {"username": sunniva.email, "password": PASSWORD, "next": place}
    )

    assert answer.url == place
    assert client.get(place).url == reverse("checks:pickup", args=[marked.pk])


def test_with_more_than_one_check_due_the_card_offers_each(
    signed_in, perpetua, fennerlow, leilani, pasteuriser, marked, heron, now, today, season
):
    other = bookings.book_kit(
        village=fennerlow, borrower=leilani, machines=[pasteuriser], period=Period(start=today, end=date(2027, 9, 3)),
        fruit_amount=Decimal("10"), fruit_unit="crate", note="", by=leilani, at=now, today=today,
    )  # fmt: skip
    bookings.agree(booking=other, by=perpetua, at=now, today=today, revision=other.revision)

    page = signed_in(perpetua).get(code_of(heron)).content.decode()

    assert "Pickup check, Sorrelhythe" in page
    assert "Pickup check, Fennerlow" in page


def test_what_is_retired_says_so(client, otter, otter_mill, mill, marked, drive_pin, teodor, now, today):
    kits.retire_machine(machine=otter_mill, by=teodor, at=now, today=today)
    kits.retire_kit(kit=otter, by=teodor, at=now, today=today)
    kits.change_part(part=drive_pin, packed_in="Blue tin", by=teodor, at=now)

    assert "This kit is retired" in client.get(code_of(otter)).content.decode()
    assert "This machine is retired" in client.get(code_of(otter_mill)).content.decode()
    assert "nothing is packed here any more" in client.get(tin(mill)).content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Type the code that stands under the squares"),
        ("K7M4Q", "here are fewer"),
        ("K7M4Q44", "here are more"),
        ("K0M4Q4", "No code has “0” in it"),
        ("7KM4Q4", "two have changed places"),
        ("K7M4QC", "one character is wrong"),
    ],
)
def test_a_mistyped_code_says_what_to_look_at_and_stays(client, scheme, typed, words):
    answer = client.get(reverse("codes:enter"), {"code": typed})

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert f'value="{typed}"' in answer.content.decode() or not typed


def test_a_code_of_nothing_here_is_told_from_a_mistyped_one(client, scheme):
    assert "nothing of this scheme has this code" in client.get("/k/", {"code": "k7m 4q4"}).content.decode()
    assert client.get("/k/K7M4Q4/").status_code == 404


def test_a_typed_code_leads_where_the_scanned_one_does(client, marked, heron):
    code = coding.code_of(heron)

    answer = client.get("/k/", {"code": f" {str(code).lower()} "})

    assert answer.url == code_of(heron)
    assert client.get(f"/k/{code.text.lower()}/").url == code_of(heron)


def test_a_borrower_prints_no_labels(signed_in, leilani, marked):
    for name in ("labels", "sheet"):
        assert signed_in(leilani).get(reverse(f"codes:{name}")).status_code == 403
    assert signed_in(leilani).post(reverse("codes:make")).status_code == 403


def test_missing_codes_are_made_by_a_button(signed_in, teodor, mill, drive_pin):
    client = signed_in(teodor)
    assert "3 things have no code yet." in client.get(reverse("codes:labels")).content.decode()

    page = client.post(reverse("codes:make"), follow=True).content.decode()

    assert "Codes made: 3." in page
    assert "have no code yet" not in page


def test_the_chosen_labels_are_laid_out_with_code_and_words_for_the_paper(signed_in, teodor, marked, heron, mill):
    texts = [coding.code_of(heron).text, coding.code_of(mill).text]

    page = signed_in(teodor).get(reverse("codes:sheet"), {"code": texts, "paper": "letter"}).content.decode()

    assert page.count('class="qr"') == 2
    assert "paper-letter.css" in page
    assert all(str(code) in page for code in Code.objects.filter(text__in=texts))
    assert "Machine of the kit Heron" in page


def test_no_label_chosen_is_refused_beside_the_choice(signed_in, teodor, marked):
    answer = signed_in(teodor).get(reverse("codes:sheet"), {"paper": "a4"})

    assert answer.status_code == 422
    assert "Tick at least one label." in answer.content.decode()


def test_an_address_that_no_phone_reaches_is_pointed_out(signed_in, teodor, marked, settings):
    assert "no phone reaches" in signed_in(teodor).get(reverse("codes:labels")).content.decode()
    settings.SITE_ADDRESS = "https://kit.example.org"
    assert "no phone reaches" not in signed_in(teodor).get(reverse("codes:labels")).content.decode()


def test_labels_and_cards_cost_the_same_at_one_machine_and_at_twelve(signed_in, teodor, depot, heron, now):
    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        return len(asked)

    def machines(kit: Kit, numbers: range) -> None:
        for number in numbers:
            machine = Machine.objects.create(kit=kit, name=f"Mill {number}", kind=MachineKind.MILL)
            Part.objects.create(machine=machine, name="Pin", packed_in=f"Tin {number}", caution="Sharp.")
        coding.make_codes(by=teodor, at=now)

    client = signed_in(teodor)
    machines(heron, range(1))
    pages = [reverse("codes:labels"), code_of(heron)]
    for page in pages:
        client.get(page)
    few = [queries(page) for page in pages]

    machines(heron, range(1, 12))
    machines(Kit.objects.create(name="Wren", depot=depot), range(3))

    assert [queries(page) for page in pages] == few

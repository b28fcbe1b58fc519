"""What leaves the printer: one page a kit, whatever the paper, with a code on it that a reader finds."""

import io
from datetime import date
from decimal import Decimal
from math import ceil
from unicodedata import normalize

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from kitshare.bookings import actions as bookings
from kitshare.kits import actions as kits
from kitshare.kits import coding
from kitshare.kits.code_models import Code
from kitshare.kits.models import Machine, Part
from kitshare.rules.periods import Period
from kitshare.web.codes.qr import address_of

PAPERS = {"A4": (595, 842), "Letter": (612, 792)}  # points


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def two_kits(heron, otter, sorrelhythe, sunniva, perpetua, season, teodor, now, today):
    """Two kits of the starter list, agreed for one village: one with 31 parts, the other with 45."""
    for kit, parts in ((heron, 31), (otter, 45)):
        machines = kits.add_starter_machines(kit=kit, choices=["mill", "press", "pasteuriser"], by=teodor, at=now)
        few = Part.objects.filter(machine__kit=kit).count()
        strap = {"machine": machines[0], "caution": "Mind the hook.", "packed_in": "strap bag"}
        Part.objects.bulk_create(Part(name=f"Strap {number}", **strap) for number in range(parts - few))
        all_of_it = list(Part.objects.travelling().filter(machine__kit=kit))
        for number, part in enumerate(all_of_it, start=1):
            part.number = f"{kit.name[0]}{number}"
        Part.objects.bulk_update(all_of_it, ["number"])
    coding.make_codes(by=teodor, at=now)
    booking = bookings.book_kit(
        village=sorrelhythe, borrower=sunniva, machines=list(Machine.objects.all()),
        period=Period(start=today, end=date(2027, 9, 4)), fruit_amount=Decimal("20"), fruit_unit="crate", note="",
        by=sunniva, at=now, today=today,
    )  # fmt: skip
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)


def printed(page, paper: str) -> PdfReader:
    return PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=True)))


def sizes(read: PdfReader) -> list[str]:
    """The paper of each page, to within a point."""
    return [
        next(name for name, size in PAPERS.items() if page.mediabox[2:] == pytest.approx(size, abs=1))
        for page in read.pages
    ]


def test_each_kit_and_the_briefing_are_one_page_and_labels_are_eight_to_a_page(at_a_phone, teodor, two_kits, heron):
    person = at_a_phone(teodor, width=1280)
    page = person.page

    person.go(f"/checks/print/{two_kits.pk}/")
    for paper in PAPERS:
        read = printed(page, paper)
        assert sizes(read) == [paper, paper]
        first, second = (normalize("NFKC", one.extract_text()) for one in read.pages)
        assert ("Heron, Sorrelhythe" in first, "Otter, Sorrelhythe" in second) == (True, True)
        assert all(f"O{number}" in second for number in range(1, 46))
        assert str(coding.code_of(heron)) in first
        for words in ("Out: name", "Back: name", "Local rules come first", "Unplug before reaching in"):
            assert words in first
    [scanned] = zxingcpp.read_barcodes(Image.open(io.BytesIO(page.locator(".qr").first.screenshot())))
    assert scanned.text == address_of(coding.code_of(heron).text)

    person.go("/briefing/")
    assert [sizes(printed(page, paper)) for paper in PAPERS] == [["A4"], ["Letter"]]

    for paper, name in (("A4", "a4"), ("Letter", "letter")):
        codes = "".join(f"&code={code.text}" for code in Code.objects.all())
        person.go(f"/k/labels/sheet/?paper={name}{codes}")
        other = next(one for one in PAPERS if one != paper)  # the page asks for its own size, whatever the printer has
        assert sizes(printed(page, other)) == [paper] * ceil(Code.objects.count() / 8)

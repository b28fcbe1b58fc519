"""Photos at a fault, and what notes say was spent."""

import io
from decimal import Decimal

import pytest
from django.db import IntegrityError
from PIL import Image

from kitshare.kits.pictures import PhotoUnreadable
from kitshare.logbook.models import Entry
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import picturing
from kitshare.upkeep.models import Fault, FaultNote
from kitshare.upkeep.photo_models import FaultPhoto, PhotoWhen
from kitshare.upkeep.refusals import FaultChangedMeanwhile, NotTheirs
from kitshare.upkeep.spending import Spent
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def fault(mill, sunniva, now) -> Fault:
    return upkeep.report_fault(
        machine=mill, part=None, note="It hums.", severity=Severity.STOPS_USE, by=sunniva, at=now
    )


@pytest.fixture
def keep(fault, sunniva, now):
    def keep_it(content: bytes, **changes: object) -> FaultPhoto:
        facts = {"fault": fault, "when": PhotoWhen.BEFORE, "by": sunniva, "at": now}
        return picturing.keep_fault_photo(upload=upload(content), **(facts | changes))

    return keep_it


def test_a_photo_is_kept_once_small_and_without_what_the_camera_wrote(keep, fault):
    exif = Image.Exif()
    exif[0x010F] = "The camera's own words"
    sent = picture((4000, 3000), exif=exif)

    first, again = keep(sent), keep(sent)

    assert first == again == FaultPhoto.objects.get()
    with first.image.open("rb") as file:
        kept = Image.open(io.BytesIO(file.read()))
    assert (kept.format, kept.size) == ("JPEG", (1600, 1200))
    assert not kept.getexif()
    entry = Entry.objects.about(fault).filter(deed="fault_pictured").get()
    assert entry.text == "Heron mill: photo of the fault, before the mending."


def test_what_is_no_photo_or_nobodys_to_send_is_refused(keep, leilani, monkeypatch):
    with pytest.raises(PhotoUnreadable):
        keep(b"<svg onload='alert(1)'>")
    with pytest.raises(NotTheirs):
        keep(picture(), by=leilani)
    monkeypatch.setattr(picturing, "MOST_OF_A_FAULT", 1)
    keep(picture())
    with pytest.raises(picturing.FaultPhotosEnough):
        keep(picture((30, 30)))

    assert FaultPhoto.objects.count() == 1


def test_what_was_spent_is_kept_with_the_note_and_a_double_tap_spends_once(fault, teodor, now):
    spent = Spent.of(45, Decimal("12.50"))
    for _tap in range(2):
        upkeep.note_fault(fault=fault, text="Bought a belt.", spent=spent, by=teodor, at=now, revision=1)

    note = FaultNote.objects.get()
    assert (note.minutes, note.money) == (45, Decimal("12.50"))
    with pytest.raises(FaultChangedMeanwhile):  # other minutes are another note: they are not lost in silence
        upkeep.note_fault(fault=fault, text="Bought a belt.", spent=Spent.of(50, None), by=teodor, at=now, revision=1)


@pytest.mark.parametrize("spent", [{"minutes": 0}, {"minutes": 10_001}, {"money": 0}, {"money": Decimal("100000.01")}])
def test_no_note_spends_nothing_or_a_fortune(fault, teodor, now, spent):
    with pytest.raises(IntegrityError, match="spent_on_a_fault_is_believable"):
        FaultNote.objects.create(fault=fault, revision=9, by=teodor, at=now, text="Slip.", **spent)

"""A part's picture: kept small and silent, replaced under another key, taken away, and told in the logbook."""

import io

import pytest
from django.core.files.storage import default_storage
from PIL import Image

from kitshare.kits import part_pictures
from kitshare.kits.pictures import PhotoTooHeavy, PhotoUnreadable
from kitshare.logbook.models import Entry
from tests.checks.sheets import picture, upload


@pytest.fixture
def give(drive_pin, teodor, now, django_capture_on_commit_callbacks):
    def give_it(content: bytes) -> str:
        with django_capture_on_commit_callbacks(execute=True):
            part_pictures.give_picture(part=drive_pin, upload=upload(content), by=teodor, at=now)
        drive_pin.refresh_from_db()
        return drive_pin.picture.name

    return give_it


def test_a_picture_is_kept_small_and_without_where_it_was_taken(give, drive_pin):
    exif = Image.Exif()
    exif[0x010E] = "the yard at home"

    name = give(picture((3000, 2000), exif=exif))

    with default_storage.open(name) as file:
        kept = file.read()
    with Image.open(io.BytesIO(kept)) as image:
        assert (image.format, image.size, dict(image.getexif())) == ("JPEG", (1000, 667), {})
    assert b"the yard at home" not in kept
    assert drive_pin.picture_key in name
    assert "Added a picture of Drive pin of Heron mill." in Entry.objects.about(drive_pin)[0].text


def test_another_picture_has_another_key_and_the_file_before_it_goes(give, drive_pin):
    first = give(picture())
    second = give(picture((640, 480)))

    assert first != second
    assert not default_storage.exists(first)
    assert default_storage.exists(second)
    assert "in place of the one before" in Entry.objects.about(drive_pin)[0].text


def test_a_picture_taken_away_leaves_words_and_no_file(
    give, drive_pin, teodor, now, django_capture_on_commit_callbacks
):
    name = give(picture())

    with django_capture_on_commit_callbacks(execute=True):
        part_pictures.take_picture_away(part=drive_pin, by=teodor, at=now)
        part_pictures.take_picture_away(part=drive_pin, by=teodor, at=now)

    drive_pin.refresh_from_db()
    assert drive_pin.picture_key == ""
    assert not default_storage.exists(name)
    assert [entry.text[:9] for entry in Entry.objects.about(drive_pin)] == ["Took away", "Added a p"]


def test_what_is_refused_changes_nothing(give, drive_pin, settings):
    name = give(picture())
    with pytest.raises(PhotoUnreadable):
        give(b"Dear coordinator, this is no picture.")
    settings.PHOTO_MAX_BYTES = 100
    with pytest.raises(PhotoTooHeavy):
        give(picture())

    drive_pin.refresh_from_db()
    assert drive_pin.picture.name == name
    assert len(default_storage.listdir("parts")[1]) == 1


def test_a_picture_that_cannot_be_written_down_leaves_no_file(give, drive_pin, monkeypatch):
    monkeypatch.setattr("kitshare.kits.part_pictures.write", lambda **_: 1 / 0)

    with pytest.raises(ZeroDivisionError):
        give(picture())

    assert default_storage.listdir("parts")[1] == []

"""What is known of the last backup."""

from datetime import UTC, datetime

import pytest

from kitshare.keeping.record import NAME, Backup, last_backup, note

MADE = Backup(
    made_at=datetime(2027, 10, 30, 23, 0, 0, 123456, tzinfo=UTC),
    checked_at=datetime(2027, 10, 30, 23, 0, 2, tzinfo=UTC),
    place="/var/backups/kitshare-20271030-230000.zip",
    size_bytes=2_345_678,
    rows=7_000,
    photos=12,
    photos_missing=0,
)


@pytest.fixture(autouse=True)
def own_data(settings, tmp_path):
    settings.DATA = tmp_path


def test_nothing_is_known_before_the_first():
    assert last_backup() is None


def test_the_last_is_known_to_the_microsecond_and_nothing_is_left_beside(tmp_path):
    note(MADE)

    assert last_backup() == MADE
    assert [file.name for file in tmp_path.iterdir()] == [NAME]


@pytest.mark.parametrize("kept", ["", "{", "[]", "7", '{"made_at": "yesterday"}', '{"made_at": 3}', "\x00"])
def test_a_damaged_note_breaks_no_page(tmp_path, kept):
    (tmp_path / NAME).write_text(kept)

    assert last_backup() is None

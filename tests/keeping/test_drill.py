"""The drill: the demonstration is backed up, restored elsewhere, and compared row by row and photo by photo."""

import os
import subprocess
import sys
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.core.files.storage import default_storage
from django.db import connection
from django.db.models import Count
from django.utils import timezone

from kitshare.bookings.models import Booking, Stage
from kitshare.demonstration.story import tell
from kitshare.keeping.making import make_backup
from kitshare.keeping.restoring import restore
from kitshare.logbook.models import Entry, Mention
from kitshare.people.models import SignInTry, Village
from kitshare.pressdays.heat_models import HeatDraft
from tests.keeping.places import every_line, every_photo, every_value, on_postgresql, on_sqlite

ROOT = Path(__file__).resolve().parents[2]
AT = datetime(2027, 10, 30, 23, 0, 0, 123456, tzinfo=UTC)
SECRET = "a-session-that-nobody-may-find"


@pytest.fixture
def told(transactional_db, settings, tmp_path):
    """The demonstration, and what strains each type."""
    settings.DATA = tmp_path
    tell(now=timezone.now())
    strain()


def strain():
    """The ends of what each type can hold, a key that is gone, and what must not travel."""
    for at in (datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 12, 31, 23, 59, 59, 999999, tzinfo=UTC)):
        Entry.objects.create(at=at, by_name="Ö 🍎 'quoted' \\N \t\r\n", deed="strained", text='{"é": "\\u0001"}\n' * 99)
    one = Booking.objects.order_by("pk").last()
    Booking.objects.filter(pk=one.pk).update(fruit_amount=Decimal("1234567.8"), fruit_kg=Decimal("19999.999"))
    draft = {"owner": one.borrower, "booking": one, "came": "pasted", "kept_at": AT}
    HeatDraft.objects.create(**draft, packed=bytes(range(256)) * 9)
    Village.objects.create(name="Gone again").delete()
    Session.objects.create(session_key=SECRET, session_data=SECRET, expire_date=AT + timedelta(days=9))
    SignInTry.objects.create(address_key=SECRET, client_key=SECRET, at=AT)


def back_up(folder, **more):
    folder.mkdir(exist_ok=True)
    made = make_backup(to=folder, at=AT, clock=timezone.now, **more)
    assert made.photos > 10
    assert made.photos_missing == 0
    return Path(made.place)


def check_whole(place):
    """What is true of a site at each moment: who asks holds days, who called off holds none, and each deed has its line."""
    place.connection.check_constraints()
    made = Booking.objects.using(place.alias).filter(note="meanwhile").annotate(held=Count("days"))
    over = made.filter(stage=Stage.CALLED_OFF)
    assert made.exists()
    assert {one.held for one in over} <= {0}
    assert {one.held for one in made.exclude(stage=Stage.CALLED_OFF)} <= {3, 4}  # with a day of care
    for deed, done in (("booking_asked", made), ("booking_called_off", over)):
        lines = Mention.objects.using(place.alias).filter(entry__deed=deed, kind="bookings.booking")
        assert {one.pk for one in done} == set(
            lines.filter(key__in=[one.pk for one in made]).values_list("key", flat=True)
        )


@contextmanager
def writing(url, data):
    """A process that goes on writing; it wrote before this goes on, and it wrote meanwhile."""
    there = {"DATABASE_URL": url, "KITSHARE_DATA": str(data), "DJANGO_SETTINGS_MODULE": "kitshare.settings"}
    words = [sys.executable, "-m", "tests.keeping.writer"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(words, env={**os.environ, **there}, cwd=ROOT, text=True, **pipes) as process:
        first = int(process.stdout.readline())
        yield
        written, _nothing = process.communicate("enough", timeout=60)
        assert process.returncode == 0
        assert int(written.split()[-1]) > first + 1


@pytest.mark.one_engine
def test_a_site_on_sqlite_comes_back_row_by_row_and_photo_by_photo_also_while_somebody_writes(told, tmp_path):
    file = back_up(tmp_path)

    with on_sqlite(tmp_path / "new") as place:
        restore(file=file, at=AT, place=place)

        assert every_line(place.connection) == every_line(connection)
        assert every_photo(place.storage) == every_photo(default_storage)
        assert not Session.objects.using(place.alias).exists()
        assert not SignInTry.objects.using(place.alias).exists()
        assert SECRET.encode() not in file.read_bytes()

        with writing(f"sqlite:///{tmp_path}/new/kitshare.sqlite3", tmp_path / "new"):
            files = [back_up(tmp_path / str(number), alias=place.alias) for number in range(4)]

        seen = set()
        for number, made in enumerate(files):
            with on_sqlite(tmp_path / f"again-{number}", "again") as again:
                restore(file=made, at=AT, place=again)
                check_whole(again)
                seen.add(Booking.objects.using("again").count())
        assert len(seen) > 1


@pytest.mark.needs_postgresql
def test_a_site_on_postgresql_comes_back_and_moves_to_sqlite_and_back_again(told, tmp_path):
    dumped, portable = back_up(tmp_path / "dumped"), back_up(tmp_path / "portable", portable=True)
    values, lines, photos = every_value("default"), every_line(connection), every_photo(default_storage)

    with on_postgresql(tmp_path / "new") as place:
        restore(file=dumped, at=AT, place=place)
        assert every_line(place.connection) == lines
        assert every_photo(place.storage) == photos
        assert not Session.objects.using(place.alias).exists()
        assert SECRET.encode() not in portable.read_bytes()

        told = place.connection.settings_dict
        url = f"postgres://{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT']}/{told['NAME']}"
        with writing(url, tmp_path / "new"):
            busy = back_up(tmp_path / "busy", alias=place.alias)
        with on_postgresql(tmp_path / "again", "again") as again:
            restore(file=busy, at=AT, place=again)
            check_whole(again)

    with on_postgresql(tmp_path / "from-sqlite") as place:
        restore(file=portable, at=AT, place=place)
        assert every_value(place.alias) == values
        given = {(name, last) for name, last in lines[1] if last is not None}
        assert given <= set(every_line(place.connection)[1])
        assert every_photo(place.storage) == photos

    with on_sqlite(tmp_path / "on-sqlite") as place:
        restore(file=portable, at=AT, place=place)
        assert every_value(place.alias) == values
        assert every_photo(place.storage) == photos

"""A disk that is full: what cannot be written is refused in words and done later, and nothing is half done."""

import errno
import sqlite3
from contextlib import contextmanager, suppress
from datetime import timedelta

import psycopg
import pytest
from django.db import InterfaceError, OperationalError, ProgrammingError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from kitshare.bookings.models import BookedDay, Booking
from kitshare.engine import Trouble, journal_mode, trouble_of
from kitshare.logbook.models import Entry
from kitshare.outbox import actions as outbox
from kitshare.outbox import by_hand
from kitshare.outbox.models import Message
from tests.outbox.post_office import fill as fill_the_outbox
from tests.outbox.post_office import on_another_database

ROOMY = 1_000_000


def fill(cursor):
    while True:
        cursor.execute("INSERT INTO filler VALUES (zeroblob(3000))")


@contextmanager
def no_room():
    """Not a page more for the database, nor one that was free (SQLite: SQLITE_FULL), as on a disk without room."""
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE filler (what)")
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(OperationalError, match="full"):
            fill(cursor)
        yield
        cursor.execute(f"PRAGMA max_page_count = {ROOMY}")
        cursor.execute("DROP TABLE filler")


@pytest.mark.one_engine
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the engine of the run on SQLite")
@pytest.mark.django_db(transaction=True)
def test_a_booking_on_a_full_disk_is_refused_in_words_and_made_once_when_there_is_room(
    first_of_september, send, typed, client, perpetua, mailoutbox, now, subtests
):
    fields = typed(deed="send", note="\N{EURO SIGN}" * 1900)  # 5,700 bytes: more than a page
    before = Entry.objects.count()

    with no_room():
        refused = send(fields)
        with subtests.test("a page says so, and when to come again"):
            assert (refused.status_code, refused["Retry-After"]) == (503, "60")
            assert "cannot write anything down" in refused.text
            assert "Nothing of yours was changed" in refused.text
        with subtests.test("a phone hears it as data"):
            told = client.post(reverse("bookings:new"), fields, headers={"X-Kitshare-Phone": "1"})
            assert told.status_code == 503
            assert "cannot write anything down" in told.json()["error"]
        with subtests.test("nothing is half done"):
            assert not Booking.objects.exists()
            assert not BookedDay.objects.exists()
            assert (Message.objects.count(), Entry.objects.count()) == (0, before)
        with subtests.test("pages can still be read"):
            assert client.get(reverse("season:month")).status_code == 200

    made = send(fields)
    assert made["Location"] == send(fields)["Location"] == reverse("bookings:show", args=[Booking.objects.get().pk])
    assert outbox.deliver_due(at=now).sent == Message.objects.count() == 1


@pytest.mark.one_engine
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the engine of the run on SQLite")
@pytest.mark.skipif(
    journal_mode(sqlite3.sqlite_version_info) == "WAL", reason="looks at the journal that is rolled back"
)
@pytest.mark.django_db(transaction=True)
def test_a_letter_is_taken_in_hand_only_where_there_is_room_to_note_that_it_went(now, tmp_path):
    """On a disk of 6 MB with 12 to 14 KB left each letter went twelve times before (by hand), now none goes."""
    needed = {}
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(tmp_path / "kitshare.sqlite3")])

    with on_another_database(NAME=str(tmp_path / "kitshare.sqlite3")):
        fill_the_outbox(20)
        letter = Message.objects.first()
        for name, write in {
            "claim": lambda: outbox._claim(key=letter.pk, at=timezone.now()),
            "note": lambda: outbox._mark_sent(message=letter, at=now),
        }.items():
            with transaction.atomic():
                write()
                needed[name] = (tmp_path / "kitshare.sqlite3-journal").stat().st_size

    assert needed["claim"] >= needed["note"] > 4096


class Full(Exception):
    """Instead of what the engine says."""


def no_room_for_the_note(**_letter):
    raise Full


def test_a_letter_of_which_nobody_can_note_that_it_went_goes_four_times_with_longer_rests_and_then_says_so(
    sunniva, perpetua, now, monkeypatch, mailoutbox, settings, signed_in
):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    letter = outbox.queue(key="pickup:1", to=sunniva, subject="Your pickup", body="Come at nine.", at=now)
    monkeypatch.setattr(outbox, "_mark_sent", no_room_for_the_note)

    went = []
    for minutes in range(0, 2 * 24 * 60, 10):  # two days
        before = len(mailoutbox)
        with suppress(Full):
            outbox.deliver_due(at=now + timedelta(minutes=minutes))
        went += [minutes] * (len(mailoutbox) - before)

    assert went == [0, 10, 80, 450]  # after the lease of five minutes; and an hour; and six hours
    assert len({one.extra_headers["Message-ID"] for one in mailoutbox}) == 1
    letter.refresh_from_db()
    assert (letter.is_given_up, letter.may_have_arrived) == (True, True)
    assert list(Message.objects.dead()) == list(Message.objects.given_up()) == [letter]
    assert not Message.objects.on_their_way().exists()
    for page in (reverse("post:failed"), reverse("post:show", args=[letter.pk])):
        assert "Nobody knows whether it arrived" in signed_in(perpetua).get(page).text

    monkeypatch.undo()
    by_hand.try_again(message=letter, by=perpetua, at=now + timedelta(days=3))
    assert outbox.deliver_due(at=now + timedelta(days=3)).sent == 1
    assert not Message.objects.dead().exists()


def caused(error, cause):
    error.__cause__ = cause
    return error


@pytest.mark.parametrize(
    ("error", "trouble"),
    [
        (caused(OperationalError("could not extend file"), psycopg.errors.DiskFull()), Trouble.FULL),
        (caused(OperationalError("could not write"), psycopg.errors.IoError()), Trouble.FULL),
        (OSError(errno.ENOSPC, "No space left on device"), Trouble.FULL),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), Trouble.FULL),
        (caused(OperationalError("terminating connection"), psycopg.errors.AdminShutdown()), Trouble.AWAY),
        (caused(OperationalError("starting up"), psycopg.errors.CannotConnectNow()), Trouble.AWAY),
        (caused(OperationalError("sorry"), psycopg.errors.TooManyConnections()), Trouble.AWAY),
        (caused(OperationalError("connection refused"), psycopg.OperationalError()), Trouble.AWAY),
        (caused(InterfaceError("the connection is closed"), psycopg.OperationalError()), Trouble.AWAY),
        (caused(OperationalError("deadlock detected"), psycopg.errors.DeadlockDetected()), Trouble.BUSY),
        (caused(OperationalError("too long"), psycopg.errors.QueryCanceled()), None),
        (OperationalError("no such table: kits"), None),
        (ProgrammingError("syntax"), None),
        (FileNotFoundError(errno.ENOENT, "No such file"), None),
        (ValueError("a fault of ours"), None),
        (None, None),
    ],
)
def test_only_what_waiting_may_mend_is_called_so(error, trouble):
    assert trouble_of(error) is trouble

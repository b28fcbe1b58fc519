"""A disk that is full: what cannot be written is refused in words and done later, and nothing is half done."""

import errno
from contextlib import contextmanager

import psycopg
import pytest
from django.db import InterfaceError, OperationalError, ProgrammingError, connection
from django.urls import reverse

from kitshare.bookings.models import BookedDay, Booking
from kitshare.engine import Trouble, trouble_of
from kitshare.logbook.models import Entry
from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message

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

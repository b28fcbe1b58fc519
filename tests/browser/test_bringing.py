"""The coordinator leaves paper behind: a table goes in from a phone, and a copy comes out."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from kitshare.bookings.models import Booking, Season
from kitshare.bringing.reading import read
from tests.bringing.conftest import table

DAY = timedelta(days=1)


def test_a_table_is_mended_after_the_look_and_then_brought_in_whole(
    at_a_phone, perpetua, sorrelhythe, fennerlow, mill, otter_mill
):
    today = timezone.localdate()
    Season.objects.create(name="This season", opens_on=today - 10 * DAY, closes_on=today + 60 * DAY)
    days = {"out_on": f"{today + 7 * DAY}", "back_on": f"{today + 9 * DAY}"}
    person = at_a_phone(perpetua)

    def send(*rows):
        person.go("/bookings/files/")
        upload = {"name": "paper.csv", "mimeType": "text/csv", "buffer": table(*rows)}
        person.page.get_by_label("The file").set_input_files(upload)
        person.press("Look at what would be made")

    send(days, days | {"village": "Fennerlow"}, days | {"village": "Fenerlow", "machines": "Otter"})
    person.sees("2 rows are in the way")
    person.sees("Row 2 has Heron mill on")
    person.sees("Near: Fennerlow")
    assert not Booking.objects.exists()

    send(days, days | {"village": "Fennerlow", "machines": "Otter"})
    person.press("Bring in all 2 bookings")
    person.sees("2 bookings were made.")
    assert Booking.objects.count() == 2

    person.go("/bookings/")
    person.follow("Copies of the bookings")
    with person.page.expect_download() as download:
        person.press("CSV")
    assert len(read(download.value.path().read_bytes(), zone=ZoneInfo("UTC")).rows) == 2
    assert person.page.evaluate("document.documentElement.scrollWidth <= innerWidth")

"""What became of the faults that somebody reported: their own page, and the one message about each."""

import pytest
from django.urls import reverse

from kitshare.outbox.models import Message
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import benching

pytestmark = pytest.mark.django_db


def test_each_that_they_reported_says_what_became_of_it(signed_in, sunniva, leilani, teodor, report, now, today):
    sign = {"by": teodor, "at": now}
    reports = {word: report(note=word, severity="use_with_care") for word in ("open", "held", "waits", "over", "left")}
    report(note="A stain of Leilani.", by=leilani)
    upkeep.take_fault(fault=reports["held"], revision=1, **sign)
    benching.wait_for_part(fault=reports["waits"], waits_for="Belt", expected_on=today, today=today, revision=1, **sign)
    upkeep.mend_fault(fault=reports["over"], note="Done.", revision=1, **sign)
    upkeep.release_fault(fault=reports["over"], retest_note="Ran an hour.", revision=2, **sign)
    benching.give_up_fault(fault=reports["left"], reason="Not worth it.", revision=1, **sign)
    browser = signed_in(sunniva)

    page = browser.get(reverse("upkeep:reported")).content.decode()

    for said in (
        "Nobody has taken it on yet.",
        "Teodor Haskerby has taken it on.",
        "Waits for: Belt, expected on Wed 1 Sep.",
        "Mended, and released after a retest by Teodor Haskerby, Wed 1 Sep, 09:30: Ran an hour.",
        "Given up by Teodor Haskerby, Wed 1 Sep, 09:30: Not worth it.",
    ):
        assert said in page
    assert "A stain of Leilani" not in page
    assert reverse("upkeep:reported") in browser.get("/").content.decode()
    assert (
        reverse("upkeep:reported") in browser.get(reverse("upkeep:fault", args=[reports["open"].pk])).content.decode()
    )


def test_whoever_reported_it_hears_once_when_it_is_over_and_of_no_deed_before(sunniva, teodor, report, now):
    fault = report()
    sign = {"fault": fault, "by": teodor, "at": now}
    upkeep.take_fault(revision=1, **sign)
    upkeep.note_fault(text="Looked.", revision=2, **sign)
    upkeep.mend_fault(note="Done.", revision=3, **sign)
    assert not Message.objects.filter(to_name=sunniva.name).exists()

    upkeep.release_fault(retest_note="Ran.", revision=4, **sign)

    assert Message.objects.get(to_name=sunniva.name).subject == "Released: Heron mill"


@pytest.mark.parametrize("number", [1, 12])
def test_the_page_costs_the_same_however_many(signed_in, sunniva, report, drive_pin, number, django_assert_num_queries):
    for place in range(number):
        report(note=f"Fault {place}", part=drive_pin)
    browser = signed_in(sunniva)
    browser.get(reverse("upkeep:reported"))

    # session, member, scheme; how many, the faults, which machines their parts serve
    with django_assert_num_queries(6):
        browser.get(reverse("upkeep:reported"))


def test_who_reported_nothing_is_told_where_it_would_stand(signed_in, leilani):
    assert "You have reported no fault yet." in signed_in(leilani).get(reverse("upkeep:reported")).content.decode()

"""The demonstration: alive on whatever day it is loaded, whole, and only ever put into an empty site."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import CommandError, call_command

from kitshare.bookings import offers, waiting_list
from kitshare.bookings.models import Booking, Season, Stage, needs_a_test_first
from kitshare.bookings.waiting_models import Offer
from kitshare.bringing import actions as bringing
from kitshare.bringing.models import BroughtFile
from kitshare.checks.models import CheckLine
from kitshare.checks.sent_models import PausedSheet, SentSheet, SheetState
from kitshare.demonstration.people import PASSWORD
from kitshare.demonstration.story import tell
from kitshare.kits.models import Kit
from kitshare.outbox.models import Message
from kitshare.people.models import Member, Scheme
from kitshare.pressdays import recalls
from kitshare.pressdays.heat_models import HeatRecord
from kitshare.pressdays.record_models import PressDayRecord
from kitshare.rules.checklists import Condition
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import probing
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault
from kitshare.upkeep.probe_models import ProbeCheck

pytestmark = pytest.mark.django_db


@pytest.mark.one_engine
def test_the_story_can_be_told_on_the_last_evening_of_october_and_nothing_in_it_is_later_than_now():
    now = datetime(2027, 10, 31, 23, 55, tzinfo=UTC)

    tell(now=now)

    check_whole(now)


def check_whole(now) -> None:
    """Every stage is there, in two seasons of which one is on, and nothing happened later than now."""
    today = now.date()
    seasons = Season.objects.order_by("opens_on")
    assert [season.period.contains(today) for season in seasons] == [False, True]
    assert Booking.objects.filter(out_on__lt=seasons[0].closes_on).count() == 22
    assert set(Booking.objects.values_list("stage", flat=True)) >= {
        Stage.ASKED,
        Stage.AGREED,
        Stage.OUT,
        Stage.BACK,
        Stage.CLOSED,
        Stage.CALLED_OFF,
    }
    assert not Booking.objects.filter(changed_at__gt=now).exists()
    assert Booking.objects.filter(stage=Stage.OUT, back_on__lt=today).count() == 1
    assert Booking.objects.filter(stage=Stage.OUT, back_on__gte=today).count() == 1
    second = SentSheet.objects.get()
    assert (second.state, len(second.differences), second.matters) == (SheetState.MERGED, 1, False)
    assert PausedSheet.objects.get().booking.back_on < today


def check_accounts() -> None:
    """Each is of the domain set aside for examples (RFC 2606, section 3), and has the printed password."""
    with_address = Member.objects.exclude(email=None)
    assert all(member.email.endswith("@example.org") for member in with_address)
    assert with_address.first().check_password(PASSWORD)
    assert Scheme.objects.get().is_demonstration


def check_day_records() -> None:
    """Each outing of the earlier season has what it gave, and all together come to 0.5 to 0.6 litres a kilogram."""
    earlier = Season.objects.order_by("opens_on").first()
    days = PressDayRecord.objects.filter(day__lt=earlier.closes_on)
    assert len({record.booking_id for record in days}) == 22
    assert 0.5 < sum(record.litres for record in days) / sum(record.pressed_kg for record in days) < 0.6
    # The last return is not written down yet: its village is asked.
    assert Booking.objects.filter(stage=Stage.BACK, day_records=None).count() == 1


def check_heat(today) -> None:
    """One batch of the earlier season is not shown to be held, and one probe reads 3 degrees low."""
    records = HeatRecord.objects.order_by("filled_on", "number")
    assert [record.verdict for record in records] == ["held", "not_shown", "held"]
    assert list(recalls.proposed(recalls.kept_since(Scheme.objects.get(), today))) == [records[1]]
    [low] = [check for check in ProbeCheck.objects.all() if abs(probing.off_by(check)) > 1]
    assert probing.off_by(low) == pytest.approx(-3, abs=0.1)
    assert low.part.machine.kit.name == "Kettle"


def test_the_story_told_just_after_midnight_of_a_leap_day_has_what_each_of_the_three_needs_to_see():
    now = datetime(2028, 2, 29, 0, 5, tzinfo=UTC)

    tell(now=now)

    check_whole(now)
    [file] = BroughtFile.objects.all()
    judged = bringing.look(file, scheme=Scheme.objects.get(), today=now.date())
    assert [one.standing for one in judged.verdicts] == ["make"] * 3 + ["clash", "unclear"] + ["make"] * 2
    lost = CheckLine.objects.get(condition=Condition.MISSING)
    before = CheckLine.objects.get(part=lost.part, check_of__booking=lost.check_of.booking, check_of__kind="pickup")
    assert before.photo is not None
    assert lost.fault in Fault.objects.stopping()
    assert Booking.objects.at_risk(now.date()).exists()
    [test] = CarePlan.objects.tests().filter(due_on__lte=now.date() + NOTICE)
    first = Booking.objects.filter(needs_a_test_first(now.date()), stage=Stage.AGREED).order_by("out_on").first()
    assert test.due_on < first.out_on <= now.date() + NOTICE
    assert Kit.objects.get(name="Kettle").machines.count() == 1
    assert Member.objects.get(name="Emrys ap Ferrow").email is None
    assert Message.objects.waiting().filter(queued_at__lt=now - timedelta(days=2)).count() == 0
    check_accounts()
    check_day_records()
    check_heat(now.date())
    # A free weekend with three waiting: the first is asked, and the next round has nothing to add.
    waiting = list(waiting_list.in_order().select_related("village"))
    assert [booking.village.name for booking in waiting] == ["Sorrelhythe", "Tŷ-Ferrow", "Nether Larkenhoe"]
    assert Offer.objects.open().get().booking == waiting[0]
    assert not offers.settle(at=now)


def test_a_site_with_a_scheme_is_left_as_it_is(scheme):
    with pytest.raises(CommandError, match="left as it is"):
        call_command("load_demonstration")

    assert Member.objects.count() == 0


def test_no_invented_person_is_ever_mailed(settings, db):
    settings.EMAIL_ADDRESS = "smtp://127.0.0.1:25"

    with pytest.raises(CommandError, match="mail server"):
        call_command("load_demonstration")

    assert not Scheme.objects.exists()

"""When the clock last ran, what stands behind the pages, and the figures made of it."""

from datetime import timedelta

import pytest
from celery.states import FAILURE, SUCCESS
from django.db import IntegrityError, transaction
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from kitshare.bookings.models import Booking, Stage
from kitshare.outbox.models import TRIES, Message
from kitshare.reminders.tasks import write_due_reminders
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.watch import actions as watch
from kitshare.watch import counting, figures, tasks
from kitshare.watch.models import Round, RoundName
from kitshare.watch.standing import CLOCK_STANDS_AFTER, standing

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_backup(settings, tmp_path):
    settings.DATA = tmp_path


def letter(now, **facts):
    facts = {"key": f"letter {Message.objects.count()}", "queued_at": now, "due_at": now} | facts
    return Message.objects.create(
        channel="mail", to_name="A", to_address="a@example.org", subject="S", body="B", **facts
    )


def test_a_round_is_one_row_and_written_seldom(now):
    for seconds in (0, 5, 60, 30):
        watch.note_round(name=RoundName.WORKER, seconds=seconds, at=now + timedelta(seconds=seconds))

    (last,) = Round.objects.all()
    assert (last.done_at, last.seconds) == (now + timedelta(seconds=60), 60)
    with pytest.raises(IntegrityError, match=r"round_one_a_name|UNIQUE"), transaction.atomic():
        Round.objects.create(name=RoundName.WORKER, done_at=now, seconds=0)


def test_a_task_done_well_shows_that_its_worker_lives(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)
    monkeypatch.setattr(tasks, "_noted", {})
    tasks.note(task_id="a", task=write_due_reminders, state=FAILURE)
    assert not Round.objects.exists()

    tasks.begin(task_id="b")
    tasks.note(task_id="b", task=write_due_reminders, state=SUCCESS)

    assert set(Round.objects.values_list("name", flat=True)) == {RoundName.REMINDERS, RoundName.WORKER}
    assert tasks._begun == {}


def test_a_clock_stands_still_once_it_has_run_and_runs_no_more(now):
    watch.note_round(name=RoundName.REMINDERS, seconds=1, at=now)

    later = standing(now + CLOCK_STANDS_AFTER)

    assert (later.stands_still(RoundName.REMINDERS), later.stands_still(RoundName.WORKER)) == (True, False)
    assert not standing(now + CLOCK_STANDS_AFTER / 2).stands_still(RoundName.REMINDERS)


def test_what_the_mail_server_said_of_the_oldest_letter_is_known(now):
    letter(now - timedelta(minutes=40), attempts=2, last_error="421 too many letters")
    letter(now - timedelta(minutes=20), attempts=1, last_error="451 try later")
    letter(now - timedelta(days=9), attempts=TRIES, last_error="550 nobody of that name")

    seen = standing(now)

    assert (seen.post.letters, seen.post_error, seen.given_up) == (2, "421 too many letters", 1)
    assert seen.post_is_late


def figures_at(at) -> dict[str, float]:
    """Every figure by its name and labels, as the reader of Prometheus' own package understands the text."""
    return {
        sample.name + "".join(f" {label}" for label in sorted(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(figures.text(at).decode())
        for sample in family.samples
    }


def test_figures_are_read_by_another_and_say_what_stands(now, mill, teodor, agreed_booking, django_assert_num_queries):
    letter(now - timedelta(minutes=40), attempts=2, last_error="421 too many letters")
    Booking.objects.update(stage=Stage.OUT)
    letter(now + timedelta(days=1), due_at=now + timedelta(days=1))
    watch.note_round(name=RoundName.REMINDERS, seconds=1.5, at=now - timedelta(seconds=30))
    upkeep.report_fault(machine=mill, part=None, note="Squeals.", severity=Severity.STOPS_USE, by=teodor, at=now)
    counting.count_answer(page="watch:test", status=200, seconds=0.2)

    with django_assert_num_queries(7):
        found = figures_at(now)

    told = sum(1 for one in Message.objects.on_their_way() if one.due_at <= now)
    assert found["kitshare_post_late"] == told >= 1
    assert found["kitshare_post_waiting"] == told + 1
    assert found["kitshare_post_late_seconds"] == 2400
    assert found["kitshare_faults_stopping"] == 1
    assert (found["kitshare_bookings_out"], found["kitshare_bookings_late"]) == (1, 0)
    assert found["kitshare_round_age_seconds reminders"] == 30
    assert found["kitshare_round_seconds reminders"] == 1.5
    assert found["kitshare_answers_total 200 watch:test"] >= 1
    assert found["kitshare_answer_seconds_bucket 0.25 watch:test"] >= 1
    assert "kitshare_backup_age_seconds" not in found

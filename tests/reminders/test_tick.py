from io import StringIO

import pytest
from django.conf import settings
from django.core.management import call_command
from django.utils import timezone

from kitshare.bringing import actions as bringing
from kitshare.bringing.tasks import sweep
from kitshare.celery import app
from kitshare.outbox import actions as outbox
from kitshare.outbox import tasks as outbox_tasks
from kitshare.reminders import actions as reminders
from kitshare.reminders.tasks import write_due_reminders
from tests.reminders.conftest import on


def test_one_round_by_hand_says_what_it_did(agreed, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: on(10))
    said = StringIO()

    call_command("tick", stdout=said)

    assert said.getvalue().startswith("Reminders written: 1. Messages sent:")


@pytest.mark.parametrize(
    ("task", "module", "action"),
    [
        (write_due_reminders, reminders, "write_due_reminders"),
        (sweep, bringing, "sweep"),
    ],
)
def test_a_task_only_rings_for_the_action(task, module, action, monkeypatch):
    rung = []
    monkeypatch.setattr(module, action, lambda *, at: rung.append(at))

    task()

    assert len(rung) == 1


def test_every_task_on_the_clock_exists_and_does_not_pile_up():
    app.loader.import_default_modules()

    for entry in app.conf.beat_schedule.values():
        assert entry["task"] in app.tasks
        assert entry["options"]["expires"] < entry["schedule"]


def test_each_time_is_well_within_the_next():
    """Seven exchanges with the mail server, each as slow as may be, after the last claim of a round."""
    slowest = outbox.ROUND_SECONDS + 7 * settings.EMAIL_TIMEOUT
    soft, hard = app.conf.task_soft_time_limit, app.conf.task_time_limit
    lease, handed_out_again = outbox.LEASE.total_seconds(), app.conf.broker_transport_options["visibility_timeout"]

    assert slowest < soft < hard < lease < handed_out_again
    assert 2 * hard < handed_out_again


def test_what_is_due_is_shared_out_in_rings_of_a_few_keys(monkeypatch):
    rung = []
    monkeypatch.setattr(outbox, "what_is_due", lambda *, at, limit: list(range(25)))
    monkeypatch.setattr(outbox_tasks.deliver, "apply_async", lambda args, expires: rung.append(args[0]))

    outbox_tasks.share_out_what_is_due()

    assert [len(keys) for keys in rung] == [10, 10, 5]
    assert [key for keys in rung for key in keys] == list(range(25))


@pytest.mark.parametrize(
    ("task", "queue"),
    [
        ("kitshare.outbox.tasks.deliver", "send"),
        ("kitshare.outbox.tasks.share_out_what_is_due", "plan"),
        ("kitshare.reminders.tasks.write_due_reminders", "plan"),
        ("kitshare.bookings.tasks.report_season", "report"),
    ],
)
def test_each_task_has_its_queue(task, queue):
    taken = app.amqp.router.route({}, task)["queue"]

    assert (taken.name, taken.exchange.name, taken.routing_key) == (queue, queue, queue)
    assert queue in app.amqp.queues.consume_from  # by a worker that is told of no queue

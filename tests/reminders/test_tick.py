from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from kitshare.bringing import actions as bringing
from kitshare.bringing.tasks import sweep
from kitshare.celery import app
from kitshare.outbox import actions as outbox
from kitshare.outbox.tasks import deliver_due
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
        (deliver_due, outbox, "deliver_due"),
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


def test_a_task_ends_long_before_the_broker_hands_it_to_another():
    assert app.conf.task_time_limit * 2 < app.conf.broker_transport_options["visibility_timeout"]
    assert outbox.ROUND_SECONDS < app.conf.task_soft_time_limit < app.conf.task_time_limit

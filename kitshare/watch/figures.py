"""Figures for whoever watches the server, in the text that Prometheus reads: most are asked of the database now."""

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Count, Q
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from kitshare.bookings.models import Booking, Stage
from kitshare.outbox.models import Message
from kitshare.upkeep import fitness
from kitshare.watch.counting import text_of_what_was_counted
from kitshare.watch.standing import Standing, standing


def text(at: datetime) -> bytes:
    """All figures: what stands in the database now, and what was counted since the web server began."""
    asked_now = CollectorRegistry()
    asked_now.register(Figures(at))
    return generate_latest(asked_now) + text_of_what_was_counted()


class Figures(Collector):
    """What the database knows at one moment, in seven queries."""

    def __init__(self, at: datetime) -> None:
        self._at = at

    def describe(self) -> list[Metric]:
        return []  # else the registry asks the database once more, for the names alone

    def collect(self) -> Iterator[Metric]:
        seen = standing(self._at)
        yield from _of_post(seen)
        yield from _of_bookings(self._at)
        faults = fitness.stopping_faults().count()
        yield _gauge("kitshare_faults_stopping", "Faults that stop the use of a machine.", faults)
        yield from _of_rounds(seen)
        if seen.backup_age is not None:
            age = seen.backup_age.total_seconds()
            yield _gauge("kitshare_backup_age_seconds", "Since the last backup that is known.", age)
        if seen.free_mb is not None:
            yield _gauge("kitshare_free_bytes", "Free where the data lie.", seen.free_mb * 1_000_000)


def _gauge(name: str, words: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(name, words, value=value)


def _of_post(seen: Standing) -> Iterator[Metric]:
    waiting = Message.objects.on_their_way().count()
    yield _gauge("kitshare_post_waiting", "Messages by mail that are not sent yet.", waiting)
    yield _gauge("kitshare_post_late", "Messages by mail that should have gone by now.", seen.post.letters)
    late = seen.post.by.total_seconds()
    yield _gauge("kitshare_post_late_seconds", "How late the oldest of them is.", late)
    yield _gauge("kitshare_post_given_up", "Messages by mail that are not tried any more.", seen.given_up)


def _of_bookings(at: datetime) -> Iterator[Metric]:
    out = Booking.objects.filter(stage=Stage.OUT)
    found = out.aggregate(out=Count("pk"), late=Count("pk", filter=Q(back_on__lt=at.date())))
    yield _gauge("kitshare_bookings_out", "Bookings whose machines are with a village.", found["out"])
    yield _gauge("kitshare_bookings_late", "Of these, those that should have been back before today.", found["late"])


def _of_rounds(seen: Standing) -> Iterator[Metric]:
    ages = GaugeMetricFamily("kitshare_round_age_seconds", "Since a work of the clock was last done.", labels=["round"])
    took = GaugeMetricFamily("kitshare_round_seconds", "How long it then took.", labels=["round"])
    for name, last in seen.rounds.items():
        ages.add_metric([name], max(0.0, (seen.at - last.done_at).total_seconds()))
        took.add_metric([name], last.seconds)
    yield ages
    yield took

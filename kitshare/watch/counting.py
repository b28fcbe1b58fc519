"""How often each page was answered, and how long it took: counted where it happens.

With PROMETHEUS_MULTIPROC_DIR the counts of several processes stand in files of that folder, and are added up when
somebody asks.
"""

from typing import Final

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

from kitshare.serving import figures_folder

COUNTED: Final = CollectorRegistry()
ANSWERS: Final = Counter(
    "kitshare_answers", "Requests answered, by page and status.", ["page", "status"], registry=COUNTED
)
SECONDS: Final = Histogram(
    "kitshare_answer_seconds",
    "How long an answer took, by page.",
    ["page"],
    buckets=(0.05, 0.1, 0.25, 0.5, 1, 2.5, 10),
    registry=COUNTED,
)


def count_answer(*, page: str, status: int, seconds: float) -> None:
    """By the page's name, of which there are some hundreds, and never by a path."""
    ANSWERS.labels(page=page or "none", status=str(status)).inc()
    SECONDS.labels(page=page or "none").observe(seconds)


def text_of_what_was_counted() -> bytes:
    """What was counted: by this process, or by all that share the folder and by those of them that are gone."""
    if not figures_folder.named():
        return generate_latest(COUNTED)
    together = CollectorRegistry()
    MultiProcessCollector(together)  # type: ignore[no-untyped-call]
    with figures_folder.alone():
        return generate_latest(together)

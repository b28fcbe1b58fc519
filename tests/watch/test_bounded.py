import threading
import time

from kitshare.watch import bounded
from kitshare.watch.bounded import Asked


def test_an_answer_that_comes_in_time_is_given():
    assert Asked(lambda: 42).begin()(5) == 42


def test_what_hangs_is_left_in_time_and_nobody_joins_it(monkeypatch):
    asked, go_on = [], threading.Event()

    def hang():
        asked.append(1)
        go_on.wait(10)
        return "at last"

    one = Asked(hang)
    began = time.monotonic()
    answers = [one.begin()(0.05) for _ in range(3)]
    took = time.monotonic() - began
    first = one.begin()
    monkeypatch.setattr(bounded, "GIVEN_UP_AFTER", 0.0)
    second = one.begin()
    go_on.set()

    assert answers == [None, None, None]
    assert took < 5
    assert (first(5), second(5)) == ("at last", "at last")
    assert len(asked) == 2  # the one that hung so long that it was given up, and the one after it

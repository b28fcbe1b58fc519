"""A season opens: the rush of tests/bench/rush.py, with few people. The same site, the same pages, the same question at its end."""

import pytest

from tests.bench.rush import Person
from tests.bench.rush_world import fill, promised_twice


@pytest.mark.needs_postgresql  # a database in memory, as tests have it on SQLite, knows no turns between threads
@pytest.mark.django_db(transaction=True)
def test_who_comes_at_once_signs_in_and_asks_without_an_error_and_nothing_is_promised_twice(live_server):
    weekends = fill(6)
    crowd = [Person(live_server.url, number, comes_after=0, weekends=weekends) for number in range(6)]

    for person in crowd:
        person.start()
    for person in crowd:
        person.join()

    assert [person.failed for person in crowd] == [[]] * 6
    assert all(person.has_booked for person in crowd)
    assert sum(person.refused for person in crowd) >= 2  # four presses, six people, and all want the first weekend
    assert promised_twice() == 0

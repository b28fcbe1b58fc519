"""The pool of connections that KITSHARE_DATABASE_POOL asks for: many threads, few connections, and words where none is free."""

import copy
import threading

import pytest
from django.db import ConnectionHandler, OperationalError, connection

from kitshare.engine import is_busy

pytestmark = [pytest.mark.needs_postgresql, pytest.mark.django_db]


@pytest.fixture
def pooled():
    """Connections of their own to the tests' database, as settings.py makes them with a pool of two."""
    given = copy.deepcopy(connection.settings_dict)
    given |= {"CONN_MAX_AGE": 0, "CONN_HEALTH_CHECKS": True}
    given["OPTIONS"] = {**given["OPTIONS"], "pool": {"min_size": 1, "max_size": 2, "timeout": 1}}
    handler = ConnectionHandler({"default": given, "pooled": given})
    yield handler
    handler["pooled"].close_pool()


def test_eight_threads_share_two_connections(pooled):
    seen, failed = set(), []

    def ask():
        try:
            with pooled["pooled"].cursor() as cursor:
                cursor.execute("SELECT pg_backend_pid(), pg_sleep(0.05)")
                seen.add(cursor.fetchone()[0])
        except OperationalError as error:
            failed.append(error)
        finally:
            pooled["pooled"].close()

    threads = [threading.Thread(target=ask) for _number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failed == []
    assert 1 <= len(seen) <= 2


def test_who_finds_none_free_is_told_to_come_again(pooled):
    taken = [pooled["pooled"].copy() for _number in range(2)]
    for one in taken:
        one.ensure_connection()
    try:
        with pytest.raises(OperationalError) as refused:
            pooled["pooled"].ensure_connection()
    finally:
        for one in taken:
            one.close()

    assert is_busy(refused.value)

"""A database that is away for a while: the pages say so in words and with 503, and all is as before when it is back."""

from datetime import timedelta

import pytest
from django.db import OperationalError, close_old_connections, connection, connections
from django.test import Client

from kitshare.outbox import actions as outbox
from kitshare.people.models import Scheme
from kitshare.serving import actions as serving
from tests.faults.servers import OwnPostgreSQL, program
from tests.outbox.post_office import on_another_database

pytestmark = pytest.mark.needs_postgresql


@pytest.fixture
def postgresql(django_db_setup, django_db_blocker):
    """The site on a cluster of its own, with nothing in its tables."""
    if program("initdb") is None:
        pytest.skip("needs the programs of PostgreSQL")
    own = OwnPostgreSQL()
    place = {"HOST": "127.0.0.1", "PORT": own.port, "USER": "kitshare", "PASSWORD": "", "NAME": "postgres"}
    own.take_tables_of(connection.settings_dict)
    with django_db_blocker.unblock(), on_another_database(**place):
        yield own
    own.remove()


@pytest.fixture
def scheme_there(postgresql, now):
    return Scheme.objects.create(name="Pressing Share", time_zone="Europe/Berlin", telephone="0100 555010")


def asked(client):
    close_old_connections()  # as each request of a server begins, but for the test client's
    return client.get("/people/sign-in/")


class Cut:
    """Ends the connection from the other side, before the first query."""

    def __init__(self) -> None:
        self.is_cut = False

    def __call__(self, execute, sql, params, many, context):
        if not self.is_cut:
            self.is_cut = True
            here = context["connection"]
            pid = here.connection.info.backend_pid
            other = connections.create_connection("default")
            other.settings_dict = here.settings_dict
            with other.cursor() as cursor:
                cursor.execute("SELECT pg_terminate_backend(%s, 2000)", [pid])
            other.close()
        return execute(sql, params, many, context)


def test_a_database_restarted_under_the_site_costs_a_moment_and_nothing_else(
    postgresql, scheme_there, now, monkeypatch, settings, mailoutbox, subtests
):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    client = Client(raise_request_exception=False)
    to = scheme_there
    to.email = "sunniva@example.org"
    outbox.queue(key="letter", to=to, subject="Pickup", body="Come.", at=now)
    lease = {"work": "ringing", "holder": "first", "lasting": timedelta(seconds=30)}
    assert serving.hold_lease(**lease, at=now)
    assert asked(client).status_code == 200

    with subtests.test("a connection that is cut in the middle of a request"):
        with connection.execute_wrapper(Cut()):
            assert asked(client).status_code == 503
        assert asked(client).status_code == 200

    postgresql.stop_at_once()

    with subtests.test("a page says when to come again, however often it is asked"):
        for _time in range(3):
            answer = asked(client)
            assert (answer.status_code, answer["Retry-After"]) == (503, "10")
            assert "cannot reach its records" in answer.text
            assert "open the page again" in answer.text
    with subtests.test("a phone keeps what it has"):
        answer = client.post("/checks/send/", headers={"X-Kitshare-Phone": "1"})
        assert answer.status_code == 503
        assert "sent again by itself" in answer.json()["error"]
    close_old_connections()
    with subtests.test("a round of sending fails and sends nothing"), pytest.raises(OperationalError):
        outbox.deliver_due(at=now)
    assert mailoutbox == []

    postgresql.start()

    with subtests.test("the next request is answered"):
        assert asked(client).status_code == 200
    with subtests.test("what was waiting is sent, and once"):
        assert [outbox.deliver_due(at=now).sent for _round in range(2)] == [1, 0]
        assert len(mailoutbox) == 1
    with subtests.test("the beat that rang goes on"):
        assert serving.hold_lease(**lease, at=now + timedelta(seconds=20))

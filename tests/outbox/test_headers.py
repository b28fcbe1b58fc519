"""What stands over a letter, as a mail server receives it and the standard library reads it."""

from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from django.urls import resolve

from kitshare.outbox import actions as outbox
from tests.outbox.post_office import Letters, open_office


@pytest.fixture
def received(settings):
    """Sends what is due over the wire to a real server: `received(at=now)` gives the letters that came."""
    letters = Letters()
    office = open_office(letters)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_ADDRESS = "smtp://127.0.0.1"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", office.port
    settings.DEFAULT_FROM_EMAIL = "Pressing Share <kit@example.org>"
    settings.SITE_ADDRESS = "https://kit.example.org"

    def send(at) -> list[EmailMessage]:
        letters.contents.clear()
        outbox.deliver_due(at=at)
        return [message_from_bytes(content, policy=policy.default) for content in letters.contents]

    yield send
    office.stop()


@pytest.fixture
def told(sunniva, now):
    def tell(key, **words):
        words = {
            "subject": "Pickup: Tŷ-Ferrow",
            "body": "Come at nine.\n\nhttps://kit.example.org/x",
            "to": sunniva,
        } | words
        return outbox.queue(key=key, at=now, **words)

    return tell


def test_only_a_reminder_names_a_way_out_and_one_click_does_it(told, received, now):
    told("reminder", kind="pickup", thread="booking:1")
    told("answer")
    told("safety", kind="fault", is_safety=True)

    reminder, answer, safety = received(now)

    address = reminder["List-Unsubscribe"].strip(" <>")  # a long one is folded after its name
    assert reminder["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058, 3.1
    assert address.startswith("https://kit.example.org/post/reminders/stop/")
    assert resolve(address.removeprefix("https://kit.example.org")).view_name == "post:stop_reminders"
    assert address in reminder.get_body(("plain",)).get_content()
    assert address in reminder.get_body(("html",)).get_content()
    for letter in (answer, safety):
        assert letter["List-Unsubscribe"] is None
        assert letter["List-Unsubscribe-Post"] is None
        assert "no more reminders" not in letter.as_string()


def test_without_https_there_is_no_one_click(told, received, now, settings):
    settings.SITE_ADDRESS = "http://127.0.0.1:8000"
    told("reminder", kind="pickup")

    [letter] = received(now)

    assert letter["List-Unsubscribe"].strip().startswith("<http://")
    assert letter["List-Unsubscribe-Post"] is None


def test_every_letter_says_that_a_machine_wrote_it_and_has_text_before_html(told, received, now):
    told("one", thread="booking:1")
    told("two", thread="booking:1")

    letters = received(now)

    for letter in letters:
        assert letter["Auto-Submitted"] == "auto-generated"  # RFC 3834, 5
        assert [part.get_content_type() for part in letter.iter_parts()] == ["text/plain", "text/html"]
        assert letter["Subject"] == "Pickup: Tŷ-Ferrow"
        assert 'href="https://kit.example.org/x"' in letter.get_body(("html",)).get_content()
        assert not letter.defects
    one, two = letters
    assert one["References"] == two["References"] == one["In-Reply-To"]
    assert one["Message-ID"] != two["Message-ID"]


def test_a_letter_sent_twice_is_the_same_letter(told, received, now):
    message = told("reminder", kind="pickup", thread="booking:1")
    [first] = received(now)
    type(message).objects.update(sent_at=None)

    [second] = received(now + timedelta(days=3))

    for name in ("Message-ID", "References", "In-Reply-To", "List-Unsubscribe", "Subject"):
        assert first[name] == second[name]

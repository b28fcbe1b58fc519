"""By mail: how a message becomes a letter, and what the answers of a mail server mean."""

import smtplib
from collections.abc import Sequence
from email.utils import formataddr, parseaddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.crypto import salted_hmac

from kitshare.outbox import stopping
from kitshare.outbox.channels.way import Addressee, NotSent
from kitshare.outbox.models import Message
from kitshare.outbox.speaking import language_of


def reaches(to: Addressee) -> bool:
    return bool(to.email)


def send(message: Message) -> None:
    """Hand the letter to the mail server. Every failure of smtplib is an OSError, every unfit header a ValueError."""
    try:
        get_connection().send_messages([as_mail(message)])
    except (OSError, ValueError) as error:
        raise NotSent(_words(error), for_good=_is_for_good(error), of_address=_is_of_address(error)) from error


def as_mail(message: Message) -> EmailMultiAlternatives:
    """The letter as text and as HTML, under headers by which machines and mail programs know what it is."""
    headers = {"Message-ID": mail_id(message.key), "Auto-Submitted": "auto-generated"}
    if message.thread:
        headers["In-Reply-To"] = headers["References"] = mail_id(f"thread {message.thread}")
    stop = stopping.address_for(message)
    if stop:
        headers |= stopping.headers(stop)
    with translation.override(language_of(message.language)):
        body = message.body
        if stop:
            body = f"{body.rstrip()}\n\n-- \n{stopping.WORDS} {stop}\n"
        html = message.html or as_html(message.subject, [("", message.body)], stop=stop)
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=body,
        to=[formataddr((" ".join(message.to_name.split()), message.to_address))],
        headers=headers,
    )
    mail.attach_alternative(html, "text/html")
    if message.calendar:
        # Last, since a mail program shows the last form that it understands; and as a file, for those that hide it.
        # The type names the METHOD, as RFC 6047 (2.4) asks.
        method = message.calendar.partition("\r\nMETHOD:")[2].partition("\r\n")[0]
        mail.attach_alternative(message.calendar, f"text/calendar; method={method}")
        mail.attach("booking.ics", message.calendar.encode(), "application/ics")
    return mail


def as_html(subject: str, parts: Sequence[tuple[str, str]], *, stop: str = "") -> str:
    """Texts, each under its heading if it has one, as one page: made by one template from what the text says."""
    facts = {"subject": subject, "parts": parts, "stop": stop, "stop_words": stopping.WORDS}
    return render_to_string("post/letters/letter.html", facts)


def mail_id(words: str) -> str:
    """The same words give the same Message-ID, whoever sends and however often."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{salted_hmac('kitshare.outbox', words).hexdigest()[:40]}@{domain}>"


def _is_for_good(error: Exception) -> bool:
    """Whether the answer will be the same tomorrow: nobody has that address, or the letter itself is unfit."""
    return _is_refused(error) or isinstance(error, ValueError)


def _is_refused(error: Exception) -> bool:
    """Whether the server says that nobody has this address: a permanent answer (RFC 5321, 4.2.1) to the recipient."""
    if not isinstance(error, smtplib.SMTPRecipientsRefused):
        return False
    return all(code >= 500 for code, _words in error.recipients.values())


def _is_of_address(error: Exception) -> bool:
    """Whether the recipient was not taken, and not only our letters: x.7.x is about policy (RFC 3463, 3.8)."""
    if not isinstance(error, smtplib.SMTPRecipientsRefused):
        return False
    return not any(words[:4] in {b"4.7.", b"5.7."} for _code, words in error.recipients.values())


def _words(error: Exception) -> str:
    """What went wrong, as a person can read it: the server's own words where there are some."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return "; ".join(f"{code} {words.decode(errors='replace')}" for code, words in error.recipients.values())
    if isinstance(error, smtplib.SMTPResponseException):
        words = error.smtp_error
        return f"{error.smtp_code} {words.decode(errors='replace') if isinstance(words, bytes) else words}"
    return f"{type(error).__name__}: {error}"

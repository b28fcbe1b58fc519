"""By telephone: a message to somebody without an e-mail address is a line on the list of calls to make today."""

from django.utils.translation import gettext as _

from kitshare.outbox.channels.way import Addressee, NotSent
from kitshare.outbox.models import Message


def reaches(_to: Addressee) -> bool:
    """Anybody: where no number is known, the line says so, and somebody asks in the village."""
    return True


def send(_message: Message) -> None:
    """No machine rings. The line stays on the list until a person ticks it."""
    raise NotSent(_("Somebody has to telephone."))

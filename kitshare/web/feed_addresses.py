"""What the buttons beside a calendar's address do, on whichever page they stand."""

from django.contrib import messages
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.people import feed_addresses
from kitshare.people.models import FeedOwner
from kitshare.web.access import PageRequest


def change_address(request: PageRequest, *, of: FeedOwner) -> None:
    """Renew the address of a calendar, or take it away, and say what that means."""
    if request.POST.get("deed") == "take-away":
        feed_addresses.revoke_feed_token(of=of, by=request.user, at=timezone.now())
        messages.success(request, _("The calendar has no address any more. Nobody can fetch it."))
    else:
        feed_addresses.renew_feed_token(of=of, by=request.user, at=timezone.now())
        messages.success(request, _("The calendar has a new address. Whoever used the old one subscribes again."))

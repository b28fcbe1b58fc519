"""Slowing down whoever guesses passwords, without shutting a member out for long.

Counted in the database, since each server process has a memory of its own and an embedded site has no other store.
A try is written down before the password is looked at, so that a hundred at once are counted too.
"""

from datetime import datetime, timedelta
from typing import Final

from django.utils.crypto import salted_hmac

from kitshare.engine import deed
from kitshare.people.models import SignInTry

WINDOW: Final = timedelta(minutes=10)
# One visitor guessing one address; one visitor guessing many, as from a hall whose phones share an address;
# one address guessed from many places. The last is generous, so that a stranger cannot shut a member out.
MOST_OF_A_PAIR: Final = 5
MOST_OF_A_CLIENT: Final = 30
MOST_OF_AN_ADDRESS: Final = 50


@deed
def begin_try(*, address: str, client: str, at: datetime) -> datetime | None:
    """Write down a try, and give back None; or the moment from which another is welcome, and write nothing."""
    SignInTry.objects.filter(at__lte=at - WINDOW).delete()
    keys = _keys(address, client)
    limits = (
        (keys, MOST_OF_A_PAIR),
        ({"client_key": keys["client_key"]}, MOST_OF_A_CLIENT),
        ({"address_key": keys["address_key"]}, MOST_OF_AN_ADDRESS),
    )
    for same, most in limits:
        moments = list(SignInTry.objects.filter(**same).order_by("-at", "-pk").values_list("at", flat=True)[:most])
        if len(moments) == most:
            return moments[-1] + WINDOW
    SignInTry.objects.create(**keys, at=at)
    return None


@deed
def succeed(*, address: str, client: str) -> None:
    """Forget the tries of somebody who knew the password after all."""
    SignInTry.objects.filter(**_keys(address, client)).delete()


def _keys(address: str, client: str) -> dict[str, str]:
    return {
        "address_key": salted_hmac("kitshare.sign_in.address", address.strip().lower()).hexdigest(),
        "client_key": salted_hmac("kitshare.sign_in.client", client).hexdigest(),
    }

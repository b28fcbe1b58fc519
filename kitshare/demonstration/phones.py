"""What came from phones: a second check of one kit, and a check that was begun and put down."""

import uuid
from datetime import timedelta
from typing import Any

from kitshare.bookings.models import Booking
from kitshare.checks import arriving, pausing
from kitshare.checks.arriving import SheetRead
from kitshare.checks.lines import pickup_list, return_list
from kitshare.checks.models import CheckKind, HandoverCheck, SignedRole
from kitshare.checks.phone_clock import Signed
from kitshare.demonstration.telling import Teller
from kitshare.people.models import Member
from kitshare.rules.checklists import Condition


def checked_too(teller: Teller, check: HandoverCheck, by: Member) -> None:
    """Somebody looked the same kit over too, and saw the cloths with other eyes; it came half an hour later."""
    listed = pickup_list(check.booking)
    lines = [
        {
            "part": row.part.pk,
            "count": row.expected,
            "condition": (Condition.WORN if row.part.name == "Cloths" else Condition.SOUND).value,
            "spare": False,
            "note": "Two have pulled threads at the hem." if row.part.name == "Cloths" else "",
        }
        for row in listed
    ]
    signature = {"name": by.name, "role": SignedRole.DEPOT.value, "note": "", "taken_name": "", "is_clean": None}
    read = SheetRead(
        lines=lines,
        signature=signature,
        errors={},
        is_stop=False,
        in_spite=False,
        list_changed=False,
        said_of_list=[],
        photo_keys={},
    )
    signed_at = min(check.done_at + timedelta(minutes=5), teller.now)
    arriving.keep_and_judge(
        key=uuid.uuid4(),
        booking=check.booking,
        kind=CheckKind.PICKUP,
        from_booking=None,
        fields={f"p{line['part']}-condition": str(line["condition"]) for line in lines},
        read=read,
        signed=Signed(at=signed_at),
        is_made_away=True,
        by=by,
        at=min(signed_at + timedelta(minutes=25), teller.now),
    )


def begun(teller: Teller, booking: Booking) -> None:
    """The return check was begun, as far as the light lasted."""
    listed = return_list(booking)
    looked_at = listed[: len(listed) * 2 // 3]
    fields: dict[str, Any] = {f"p{row.part.pk}-seen": "all" for row in looked_at}
    pausing.pause_sheet(
        booking=booking,
        kind=CheckKind.RETURN,
        fields=fields,
        seen=len(looked_at),
        total=len(listed),
        by=booking.borrower,
        at=teller.now - timedelta(hours=14),
    )

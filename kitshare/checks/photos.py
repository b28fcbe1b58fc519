"""Why a photo is not kept for a check. How any picture is read and tidied stands with the kits."""

from typing import Final

from django.utils.translation import gettext as _

from kitshare.kits.pictures import PhotoRefused

MOST_OF_A_BOOKING: Final = 300


class PhotoNotWanted(PhotoRefused):
    """No check is open that it could belong to."""

    def __init__(self) -> None:
        super().__init__(_("No check of this booking is open, so there is nothing to keep a photo for."))


class PhotoKeyTaken(PhotoRefused):
    """Another picture, another booking's or somebody else's, has this key."""

    def __init__(self) -> None:
        super().__init__(_("Another photo was sent before in this one's place. That one stands; take this one anew."))


class PhotosEnough(PhotoRefused):
    """More photos than any check needs: a phone that sends without end must not fill the disk."""

    def __init__(self, most: int) -> None:
        super().__init__(_("This booking has %(most)d photos already, and takes no more.") % {"most": most})


class PhotoNotStored(PhotoRefused):
    """The photo is good, but the disk would not take it."""

    def __init__(self) -> None:
        super().__init__(_("The photo could not be stored just now. The check can be finished without it."))

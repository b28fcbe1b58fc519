"""What a part looks like when it is sound: a picture of it, shown at every check beside what to look for."""

import uuid
from datetime import datetime
from functools import partial
from typing import Final

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Part
from kitshare.kits.pictures import PhotoRefused, PhotoTooHeavy, let_go, tidied
from kitshare.logbook.actions import write
from kitshare.people.models import Member

# A sheet shows some thirty of them and a phone keeps them all: smaller than what is photographed at a check.
LONG_SIDE: Final = 1000


class PictureNotStored(PhotoRefused):
    """The picture is good, but the disk would not take it."""

    def __init__(self) -> None:
        super().__init__(_("The picture could not be stored just now. Try again in a while, or tell the coordinator."))


def give_picture(*, part: Part, upload: "UploadedFile[bytes]", by: Member, at: datetime) -> None:
    """Show a part by this picture from now on, in place of the one it had: small, upright, without position.

    The picture is read and re-encoded before anything is written. Raises PhotoRefused.
    """
    if (upload.size or 0) > settings.PHOTO_MAX_BYTES:
        raise PhotoTooHeavy(settings.PHOTO_MAX_BYTES)
    picture = ContentFile(tidied(upload, LONG_SIDE))
    storage = Part.picture.field.storage
    try:
        name = storage.save(f"parts/{uuid.uuid4()}.jpg", picture)
    except OSError as error:
        raise PictureNotStored from error
    try:
        _put(part=part, name=name, by=by, at=at)
    except Exception:
        let_go(storage, name)
        raise


@deed
def take_picture_away(*, part: Part, by: Member, at: datetime) -> None:
    """Show a part by words alone again. The file goes once that is sure."""
    _put(part=part, name="", by=by, at=at)


@deed
def _put(*, part: Part, name: str, by: Member, at: datetime) -> None:
    before = Part.objects.select_for_update(no_key=True).get(pk=part.pk).picture.name
    part.picture = name
    if not name and not before:
        return
    part.save(update_fields=["picture"])
    words = {"name": part, "machine": part.machine}
    text = _("Took away the picture of %(name)s of %(machine)s.")
    if name:
        text = _("Put another picture of %(name)s of %(machine)s in place of the one before.")
    if not before:
        text = _("Added a picture of %(name)s of %(machine)s.")
    about = [part, part.machine, part.machine.kit]
    write(deed="part_pictured", text=text % words, about=about, by=by, at=at)
    if before:
        transaction.on_commit(partial(let_go, Part.picture.field.storage, before), robust=True)

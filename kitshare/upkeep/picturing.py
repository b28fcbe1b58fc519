"""Keeping photos at a fault."""

from datetime import datetime
from typing import Final

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.part_pictures import PictureNotStored
from kitshare.kits.pictures import PhotoRefused, PhotoTooHeavy, digest_of, let_go, tidied
from kitshare.people.models import Member
from kitshare.upkeep import eligibility
from kitshare.upkeep.fault_changes import write
from kitshare.upkeep.models import Fault
from kitshare.upkeep.photo_models import FaultPhoto, PhotoWhen

MOST_OF_A_FAULT: Final = 40


class FaultPhotosEnough(PhotoRefused):
    """More photos than any fault needs: who sends without end must not fill the disk."""

    def __init__(self) -> None:
        super().__init__(_("This fault has %(most)d photos already, and takes no more.") % {"most": MOST_OF_A_FAULT})


def keep_fault_photo(
    *, fault: Fault, upload: "UploadedFile[bytes]", when: PhotoWhen, by: Member, at: datetime
) -> FaultPhoto:
    """Keep a picture at a fault: small, upright, without position. The same again is the same photo.

    It is for those who may write a note: whoever works on it, and whoever reported it. The picture is read and
    re-encoded before anything is written. Raises PhotoRefused, or NotTheirs.
    """
    eligibility.check_can_note(fault=fault, by=by)
    if (upload.size or 0) > settings.PHOTO_MAX_BYTES:
        raise PhotoTooHeavy(settings.PHOTO_MAX_BYTES)
    digest = digest_of(upload)
    if earlier := FaultPhoto.objects.filter(fault=fault, digest=digest).first():
        return earlier
    if FaultPhoto.objects.filter(fault=fault).count() >= MOST_OF_A_FAULT:
        raise FaultPhotosEnough
    upload.seek(0)
    photo = FaultPhoto(fault=fault, when=PhotoWhen(when).value, digest=digest, by=by, at=at)
    picture = ContentFile(tidied(upload))
    try:
        photo.image.save(f"{photo.key}.jpg", picture, save=False)
    except OSError as error:
        raise PictureNotStored from error
    try:
        _add(photo=photo)
    except IntegrityError:  # the same picture came twice at once
        let_go(photo.image.storage, str(photo.image.name))
        return FaultPhoto.objects.get(fault=fault, digest=digest)
    return photo


@deed
def _add(*, photo: FaultPhoto) -> None:
    photo.save(force_insert=True)
    text = _("%(where)s: photo of the fault, %(text)s.")
    write("fault_pictured", text, str(photo.get_when_display()), fault=photo.fault, by=photo.by, at=photo.at)

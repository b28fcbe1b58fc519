"""Photos as they arrive one by one, from the page or from a phone that kept them."""

from django.core.files.uploadedfile import UploadedFile
from django.db.models import Q
from django.http import Http404, HttpRequest, JsonResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from kitshare.bookings.models import Booking
from kitshare.bookings.relay_models import Relay
from kitshare.checks import actions as checks
from kitshare.checks import arriving
from kitshare.checks.gates import NotTheirs
from kitshare.checks.models import Photo
from kitshare.checks.photos import PhotoNotStored
from kitshare.checks.sent_models import SentSheet
from kitshare.kits.pictures import PhotoRefused, PhotoUnreadable
from kitshare.people.models import Member
from kitshare.web.access import PageRequest
from kitshare.web.checks.phone import as_key
from kitshare.web.phones import is_phone, not_theirs, wrong_member


@require_POST
def keep_photo(request: PageRequest, pk: int) -> JsonResponse:
    """Keep one photo as soon as it is taken, so that it is safe long before the sheet is signed."""
    if refused := wrong_member(request):
        return refused
    booking = booking_at_hand(request.user, pk)
    if booking is None:
        if is_phone(request):
            return not_theirs()
        raise Http404
    upload = request.FILES.get("photo")
    if not isinstance(upload, UploadedFile):
        return _refused(_("No photo came along."), final=False)
    if _is_cut_off(request, upload.size):
        return _refused(_("Only a part of the photo came. It is sent again."), final=False)
    try:
        kept = _keep(request, booking, upload)
    except PhotoUnreadable as refusal:
        return _refused(str(refusal), final="size" in request.POST)
    except PhotoNotStored as refusal:
        return _refused(str(refusal), final=False)
    except (PhotoRefused, NotTheirs) as refusal:
        return _refused(str(refusal), final=True)
    return JsonResponse({"key": str(kept.key), "address": reverse("checks:photo", args=[kept.key])})


def booking_at_hand(member: Member, pk: int) -> Booking | None:
    """A booking that a member may see, that takes the kit from theirs by a relay, or of which they sent a sheet."""
    mine = Booking.objects.visible_to(member)
    in_relay = Relay.objects.pending().visible_to(member).values("second")
    of_sheets = SentSheet.objects.filter(by=member).values("booking")
    theirs = Q(pk__in=mine) | Q(pk__in=in_relay) | Q(pk__in=of_sheets)
    return Booking.objects.with_people().filter(theirs, pk=pk).first()


def _keep(request: PageRequest, booking: Booking, upload: "UploadedFile[bytes]") -> Photo:
    key, now = as_key(request.POST.get("key", "")), timezone.now()
    if key is None:
        return checks.keep_photo(booking=booking, upload=upload, by=request.user, at=now)
    return arriving.keep_phones_photo(booking=booking, upload=upload, key=key, by=request.user, at=now)


def _is_cut_off(request: HttpRequest, size: int | None) -> bool:
    """Whether the phone says that it sent another number of bytes than came."""
    said = request.POST.get("size", "")
    return said != "" and said != str(size)


def _refused(words: str, *, final: bool) -> JsonResponse:
    """`final`: sending it again would not help."""
    return JsonResponse({"error": words, "final": final}, status=422)

"""The picture of a part: given, replaced, taken away, and shown to everybody who is signed in."""

from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitshare.kits import part_pictures
from kitshare.kits.models import Part
from kitshare.kits.pictures import PhotoRefused
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.kits.forms import PictureForm
from kitshare.web.photos import photo_answer


@require_safe
def picture(request: PageRequest, key: UUID) -> FileResponse | HttpResponse:
    """A picture, for members. It never changes under its key, so a phone may keep it; nobody in between may."""
    part = get_object_or_404(Part.objects.pictured(key))
    return photo_answer(part.picture, key)


@for_maintainers
def part_picture(request: PageRequest, pk: int) -> HttpResponse:
    """Give a part a picture, or another one."""
    part = get_object_or_404(Part.objects.select_related("machine__kit"), pk=pk)
    form = PictureForm(request.POST, request.FILES) if request.method == "POST" else PictureForm()
    if form.is_valid():
        upload = form.cleaned_data["picture"]
        try:
            part_pictures.give_picture(part=part, upload=upload, by=request.user, at=timezone.now())
        except PhotoRefused as refusal:
            form.add_error("picture", str(refusal))
        else:
            messages.success(request, _("The picture of %(name)s is kept.") % {"name": part})
            return redirect("kits:part", pk)
    return render(request, "kits/part_picture.html", {"part": part, "form": form}, status=422 if form.errors else 200)


@for_maintainers
@require_POST
def part_picture_away(request: PageRequest, pk: int) -> HttpResponse:
    """Take a part's picture away."""
    part = get_object_or_404(Part.objects.select_related("machine__kit"), pk=pk)
    part_pictures.take_picture_away(part=part, by=request.user, at=timezone.now())
    messages.success(request, _("%(name)s is shown without a picture now.") % {"name": part})
    return redirect("kits:part", pk)

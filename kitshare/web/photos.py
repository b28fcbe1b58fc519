"""How a kept photo is answered. Who may see it, the page asks first."""

from uuid import UUID

from django.db.models.fields.files import ImageFieldFile
from django.http import FileResponse, Http404


def photo_answer(image: ImageFieldFile, key: UUID) -> FileResponse:
    """The picture itself. It never changes under its key, so a phone may keep it; nobody in between may."""
    try:
        picture = image.open("rb")
    except OSError as error:
        raise Http404 from error
    answer = FileResponse(picture, content_type="image/jpeg", filename=f"{key}.jpg")
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer

"""Invented drawings that stand for pictures of parts: a few plain shapes each."""

import io
from collections.abc import Callable
from datetime import datetime
from typing import Final

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw

from kitshare.kits import part_pictures
from kitshare.kits.models import Kit, Part
from kitshare.people.models import Member

SIZE: Final = (600, 450)
GROUND, STEEL, LIGHT, EDGE, RED, DARK = "#e9e4d8", "#8b9794", "#c9d2cf", "#39423d", "#a03038", "#26302b"


def _pin(draw: ImageDraw.ImageDraw) -> None:
    draw.rounded_rectangle((90, 200, 470, 250), radius=22, fill=LIGHT, outline=EDGE, width=6)
    draw.ellipse((440, 180, 530, 270), fill=STEEL, outline=EDGE, width=6)
    draw.arc((470, 60, 590, 260), 100, 260, fill=RED, width=8)
    draw.arc((110, 170, 170, 280), 0, 300, fill=EDGE, width=6)


def _guard(draw: ImageDraw.ImageDraw) -> None:
    draw.polygon([(120, 340), (170, 90), (430, 90), (480, 340)], fill=STEEL, outline=EDGE, width=8)
    for x in range(200, 410, 45):
        draw.rounded_rectangle((x, 130, x + 18, 300), radius=8, fill=DARK)
    for x in (130, 440):
        draw.ellipse((x, 320, x + 34, 354), fill=LIGHT, outline=EDGE, width=5)


def _switch(draw: ImageDraw.ImageDraw) -> None:
    draw.rounded_rectangle((190, 60, 410, 390), radius=26, fill=LIGHT, outline=EDGE, width=8)
    draw.rounded_rectangle((240, 110, 360, 190), radius=12, fill=RED, outline=EDGE, width=5)
    draw.ellipse((265, 250, 335, 320), fill=STEEL, outline=EDGE, width=5)


def _tap(draw: ImageDraw.ImageDraw) -> None:
    draw.rectangle((80, 190, 330, 250), fill=STEEL, outline=EDGE, width=6)
    draw.rounded_rectangle((310, 170, 430, 360), radius=30, fill=STEEL, outline=EDGE, width=6)
    draw.rectangle((355, 90, 385, 180), fill=LIGHT, outline=EDGE, width=5)
    draw.rounded_rectangle((270, 70, 470, 105), radius=15, fill=RED, outline=EDGE, width=5)


def _probe(draw: ImageDraw.ImageDraw) -> None:
    draw.rounded_rectangle((60, 150, 260, 300), radius=24, fill=DARK, outline=EDGE, width=6)
    draw.rectangle((90, 180, 230, 240), fill="#cfe0c8")
    draw.rectangle((260, 215, 520, 235), fill=LIGHT, outline=EDGE, width=3)
    draw.polygon([(520, 215), (560, 225), (520, 235)], fill=LIGHT, outline=EDGE)


def _cover(draw: ImageDraw.ImageDraw) -> None:
    draw.pieslice((110, 80, 490, 460), 180, 360, fill=RED, outline=EDGE, width=8)
    draw.rectangle((90, 265, 510, 320), fill=STEEL, outline=EDGE, width=6)


DRAWN: Final[dict[str, Callable[[ImageDraw.ImageDraw], None]]] = {
    "Drive pin": _pin,
    "Feed guard": _guard,
    "Blade cover": _cover,
    "Trip switch": _switch,
    "Drain tap": _tap,
    "Probe thermometer": _probe,
}


def give(kit: Kit, *, by: Member, at: datetime) -> None:
    """Give the parts of a kit that are drawn here their pictures."""
    for part in Part.objects.travelling().filter(machine__kit=kit, name__in=DRAWN).select_related("machine__kit"):
        part_pictures.give_picture(part=part, upload=_drawing(part.name), by=by, at=at)


def of_a_blade() -> SimpleUploadedFile:
    """A drum with blunt blades, for a fault."""
    return _sent(_blades)


def _blades(draw: ImageDraw.ImageDraw) -> None:
    draw.rounded_rectangle((70, 110, 530, 340), radius=40, fill=STEEL, outline=EDGE, width=8)
    for x in range(110, 500, 60):
        draw.polygon([(x, 150), (x + 28, 170), (x + 22, 290), (x, 300)], fill=LIGHT, outline=RED, width=4)


def _drawing(name: str) -> SimpleUploadedFile:
    return _sent(DRAWN[name])


def _sent(drawn: Callable[[ImageDraw.ImageDraw], None]) -> SimpleUploadedFile:
    image = Image.new("RGB", SIZE, GROUND)
    drawn(ImageDraw.Draw(image))
    kept = io.BytesIO()
    image.save(kept, "PNG")
    return SimpleUploadedFile("part.png", kept.getvalue(), "image/png")

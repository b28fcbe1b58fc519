"""A whole sheet as it stands on the page: its lines in trays, its signature, and what is wrong with it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.files.uploadedfile import UploadedFile
from django.forms import BoundField
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.checks import actions as checks
from kitshare.checks.lines import ListedPart, PartSeen, PickupStopped, Stop, list_version, paired, stops
from kitshare.checks.models import GOES_OUT, CheckKind, HandoverCheck, Photo
from kitshare.kits.models import Machine
from kitshare.kits.pictures import PhotoRefused
from kitshare.kits.weighing import Tares, box_load, machine_load, tares_of
from kitshare.people.models import Member
from kitshare.upkeep.shelf_models import ShelfPlace
from kitshare.web.checks.forms import OTHER, LineForm, RelaySignatureForm, SignatureForm, new_key
from kitshare.web.checks.paper import PASSED_BY, PaperForm
from kitshare.web.lifting import Weight, guide_in_words, weight_in_words


@dataclass
class Tray:
    """What travels together in one tray, crate or box."""

    name: str
    lines: list[LineForm] = field(default_factory=list)
    weight: Weight | None = None  # of all that belongs in it, as far as it was weighed

    @property
    def done(self) -> int:
        return sum(line.is_seen and not line.errors for line in self.lines)

    @property
    def is_complete(self) -> bool:
        """Whether every part in it is sound and there: such a tray is pressed flat."""
        return self.done == len(self.lines) and not self._differs

    @property
    def differs(self) -> bool:
        """Whether every part in it was looked at, and something is different: such a tray stays standing."""
        return self.done == len(self.lines) and self._differs

    @property
    def _differs(self) -> bool:
        return any(line.chosen == OTHER for line in self.lines)


@dataclass
class MachineOfSheet:
    """A machine with its trays, in the order in which one packs."""

    machine: Machine
    trays: list[Tray] = field(default_factory=list)

    @property
    def weight(self) -> Weight | None:
        return weight_in_words(machine_load(self.machine))

    @property
    def has_weights(self) -> bool:
        """Whether anything of it was weighed."""
        return self.weight is not None or any(tray.weight for tray in self.trays)

    def weigh(self, tares: Tares) -> None:
        """Add up what each tray weighs."""
        for tray in self.trays:
            inside = [(line.part, line.listed.expected) for line in tray.lines]
            tray.weight = weight_in_words(box_load(self.machine, inside[0][0].packed_in, inside, tares))


class CheckSheet:
    """Reads like a form where the page needs one: it has errors, and its fields can be gone through."""

    def __init__(
        self,
        *,
        booking: Booking,
        kind: CheckKind,
        listed: Sequence[ListedPart],
        data: QueryDict | None = None,
        files: "MultiValueDict[str, UploadedFile[bytes]] | None" = None,
        begun: dict[str, str] | None = None,
    ) -> None:
        self.booking = booking
        self.kind = kind
        self.listed = listed
        self.non_field_errors: list[str] = []
        self.stops: list[Stop] = []
        self.recorded: HandoverCheck | None = None
        self.paper: PaperForm | None = None
        self.may_be_in_spite = False  # on paper: what stopped it may have been passed by
        signed = RelaySignatureForm if kind == CheckKind.RELAY else SignatureForm
        begun = begun or {}
        self.signature_form: SignatureForm = signed(data, initial={"key": new_key(), "note": begun.get("note", "")})
        photos = _photos_kept(booking, listed, begun if data is None else data)
        spares = ShelfPlace.objects.spares_of(row.part for row in listed) if kind in GOES_OUT else None
        self.lines = [LineForm(data, files, listed=row, photos=photos, spares=spares, begun=begun) for row in listed]

    def __iter__(self) -> Iterator[BoundField]:
        for line in self.lines:
            yield from line
        yield from self.signature_form
        if self.paper is not None:
            yield from self.paper

    @property
    def errors(self) -> bool:
        """Whether anything is wrong with it."""
        wrong = any(line.errors for line in self.lines) or bool(self.signature_form.errors)
        return wrong or bool(self.non_field_errors) or bool(self.paper and self.paper.errors)

    @property
    def is_pickup(self) -> bool:
        return self.kind == CheckKind.PICKUP

    @property
    def may_stop(self) -> bool:
        """Whether a village takes the kit on by it, which a vital or a guard part can stop."""
        return self.kind in GOES_OUT

    @property
    def machines(self) -> list[MachineOfSheet]:
        """Its lines, by machine and tray, with their weights; a tray stands where its first part is. One query."""
        groups: dict[int, MachineOfSheet] = {}
        trays: dict[tuple[int, str], Tray] = {}
        for line in self.lines:
            machine = line.listed.machine
            group = groups.setdefault(machine.pk, MachineOfSheet(machine))
            key = (machine.pk, line.part.packed_in.strip().casefold())
            if key not in trays:
                trays[key] = Tray(line.part.packed_in.strip() or _("With the machine itself"))
                group.trays.append(trays[key])
            trays[key].lines.append(line)
        tares = tares_of([group.machine for group in groups.values()])
        for group in groups.values():
            group.weigh(tares)
        return list(groups.values())

    @property
    def has_weights(self) -> bool:
        return any(line.weight or line.listed.machine.weight_kg is not None for line in self.lines)

    @property
    def lifting_guide(self) -> str:
        return guide_in_words()

    @property
    def done(self) -> int:
        return sum(line.is_seen for line in self.lines)

    @property
    def total(self) -> int:
        return len(self.lines)

    @property
    def list_version(self) -> str:
        """Another word when the list of parts is another: a phone that kept an older one is told what changed."""
        return list_version(self.listed)

    def seen(self) -> list[PartSeen]:
        """What was said about each part that was looked at, as far as it can be so."""
        return [line.part_seen() for line in self.lines if line.is_seen and not set(line.errors) - {"photo"}]

    def keep_photos(self, *, by: Member, at: datetime) -> None:
        """Keep each photo that came along. A good one stays kept, whatever else is wrong with the sheet."""
        for line in self.lines:
            if line.sent_photo is None:
                continue
            try:
                line.keep(checks.keep_photo(booking=self.booking, upload=line.sent_photo, by=by, at=at))
            except PhotoRefused as refusal:
                line.add_error("photo", f"{line.part.name}: {refusal}")

    @property
    def only_unseen_are_wrong(self) -> bool:
        """Whether all is in order but parts that nobody looked at: enough to stop a handover."""
        wrong = any(set(line.errors) - {"seen"} for line in self.lines)
        on_paper = bool(self.paper and self.paper.errors)
        return not wrong and not self.signature_form.errors and not self.non_field_errors and not on_paper

    @property
    def unseen_may_be(self) -> bool:
        """On paper: whether parts without a tick are to stay so."""
        return self.paper is not None and self.paper.is_valid() and bool(self.paper.cleaned_data["paper_unseen"])

    def mark_stops(self) -> None:
        """Say by each vital or guard part that it keeps the kit from going out."""
        if self.may_stop:
            self._stop_at(stops(paired(self.listed, self.seen())))
            self.may_be_in_spite = self.paper is not None and bool(self.stops)

    def refuse(self, refusal: Exception) -> None:
        """Say why it was not recorded: by the part that it is about, else on top."""
        self.may_be_in_spite = self.paper is not None and isinstance(refusal, PASSED_BY)
        if isinstance(refusal, PickupStopped):
            self._stop_at(refusal.stops)
        else:
            self.non_field_errors.append(str(refusal))

    def _stop_at(self, stopping: list[Stop]) -> None:
        lines = {line.part.pk: line for line in self.lines}
        self.stops = stopping
        for stop in stopping:
            lines[stop.part.pk].add_error("condition", stop.message)


def _photos_kept(booking: Booking, listed: Sequence[ListedPart], data: Mapping[str, Any]) -> dict[str, Photo]:
    """The photos that an earlier sending of this sheet left here, by their keys."""
    keys = set()
    for row in listed:
        try:
            keys.add(UUID(data.get(f"p{row.part.pk}-photo_key", "")))
        except ValueError:
            continue
    photos = Photo.objects.filter(booking=booking, key__in=keys) if keys else []
    return {str(photo.key): photo for photo in photos}

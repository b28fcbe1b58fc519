"""What the plan of a press day shows, as plain values: for its own page and for the booking's."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Scheme
from kitshare.pressdays.actions import why_not_plan
from kitshare.pressdays.learning import breakage_rests_on, rests_on
from kitshare.pressdays.models import ContainerKind, PressPlan, UseChoice
from kitshare.pressdays.planning import Ahead, ToBring, ahead_of
from kitshare.pressdays.provisions import provisions_for
from kitshare.pressdays.refusals import may_not_hold, remainder_words
from kitshare.pressdays.wanted import Wanted, wanted_for
from kitshare.rules.sizing_terms import LIFTING_GUIDE_KG
from kitshare.web.lifting import Weight
from kitshare.web.pressdays.kind_facts import crate_weight
from kitshare.web.pressdays.plan_form import PlanForm, Row
from kitshare.web.pressdays.provision_facts import ProvisionFacts, provision_facts
from kitshare.web.pressdays.workings import Known, Step, known_numbers, steps_of


@dataclass(frozen=True, slots=True, kw_only=True)
class UseFacts:
    """What becomes of a part of the juice, and how many litres that is."""

    use: str
    expected: Decimal
    most: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFacts:
    """Containers of one kind to bring, and what is worth knowing of them."""

    bring: ToBring
    uses: list[str]
    heaviest_kg: Decimal
    crate: Weight | None  # a full one; None where they travel singly

    @property
    def kind(self) -> ContainerKind:
        return self.bring.kind

    @property
    def whence(self) -> str:
        """Where they come from: "100 of yours, 170 to buy"."""
        bring = self.bring
        words = [
            (bring.own, _("%(number)s of yours")),
            (bring.borrowed, _("%(number)s to borrow from the scheme")),
            (bring.bought, _("%(number)s to buy")),
        ]
        return ", ".join(text % {"number": number} for number, text in words if number)

    @property
    def heavy(self) -> bool:
        """Whether a full one is over the lifting guide for one person."""
        return self.heaviest_kg > LIFTING_GUIDE_KG


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """The juice as a picture 1000 wide: where low and expected come to lie; the containers hold all of it."""

    low: int
    expected: int
    between: int  # from low to high


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What to expect of the day, what to bring, and how each number came about."""

    ahead: Ahead
    rests_on: str
    spares_rest_on: str
    bar: Bar
    uses: list[UseFacts]
    containers: list[ContainerFacts]
    refused: list[str]
    remainder: int
    unshared_litres: Decimal
    provisions: ProvisionFacts
    known: list[Known]
    steps: list[Step]

    @property
    def remainder_words(self) -> str:
        return remainder_words(self.remainder)

    @property
    def lifting_guide_kg(self) -> Decimal:
        return LIFTING_GUIDE_KG


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFacts:
    """A line of the form with its two fields, and what the result has for it: a number to bring, or why not."""

    row: Row
    percent: Any
    kind: Any
    note: str
    refused: bool

    @property
    def first(self) -> bool:
        return self.row.percent.endswith("-0")

    @property
    def use(self) -> str:
        return str(UseChoice(self.row.use).label)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFacts:
    """The plan of a booking as one member sees it. Without a form it is only read, and `why_not` says why."""

    booking: Booking
    saved: PressPlan | None
    result: Result | None
    unread: list[str]
    remainder: int  # of the mix that is shown, also where the fruit cannot be read and there is no result
    form: PlanForm | None
    why_not: str
    no_kinds: bool
    keeps_kinds: bool

    @property
    def remainder_words(self) -> str:
        return remainder_words(self.remainder)

    @property
    def rows(self) -> list[RowFacts]:
        form = self.form
        if form is None:
            return []
        notes = _notes(form, self.result)
        return [
            RowFacts(row=row, percent=form[row.percent], kind=form[row.kind], note=note, refused=refused)
            for row in form.rows
            for note, refused in [notes.get(row, ("", False))]
        ]

    @property
    def own_fields(self) -> list[tuple[Any, str]]:
        """Each field for what is at hand, and how many of the scheme's own could be borrowed."""
        form = self.form
        return [(form[name], _lent(kind)) for kind, name in form.own.items()] if form else []


def plan_facts(
    *,
    booking: Booking,
    member: Member,
    scheme: Scheme,
    machines: Sequence[Machine],
    typed: Mapping[str, Any] | None = None,
) -> PlanFacts:
    """The plan of a booking: the saved one, else the scheme's usual one, else (`typed`) what somebody is trying out."""
    kinds = list(ContainerKind.objects.order_by("position", "pk"))
    wanted = wanted_for(booking, kinds)
    why_not = why_not_plan(booking=booking, by=member)
    no_kinds = not wanted.parts and all(kind.retired_on for kind in kinds)
    form = None
    if not why_not and not no_kinds:
        form = PlanForm(booking=booking, wanted=wanted, kinds=kinds, scheme=scheme, data=typed)
    tried = form is not None and typed is not None
    shown = form.wanted() if form and tried else wanted
    return PlanFacts(
        booking=booking,
        saved=wanted.plan,
        result=_result(shown, booking, scheme, machines) if shown else None,
        unread=[] if shown or not form else [str(error) for errors in form.errors.values() for error in errors],
        remainder=form.remainder if form and tried else wanted.remainder,
        form=form,
        why_not=why_not,
        no_kinds=no_kinds,
        keeps_kinds=member.coordinates,
    )


def _result(wanted: Wanted, booking: Booking, scheme: Scheme, machines: Sequence[Machine]) -> Result:
    ahead = ahead_of(booking, scheme=scheme, wanted=wanted)
    provisions = provisions_for(ahead, machines=machines, scheme=scheme)
    unshared = Decimal(max(wanted.remainder, 0)) / 100
    return Result(
        ahead=ahead,
        rests_on=rests_on(ahead.evidence),
        spares_rest_on=breakage_rests_on(ahead.breakage) if any(one.spares for one in ahead.to_bring) else "",
        bar=_bar(ahead),
        uses=[
            UseFacts(use=str(UseChoice(use).label), expected=litres, most=ahead.most_litres[use])
            for use, litres in ahead.litres.items()
        ],
        containers=[_container(bring) for bring in ahead.to_bring],
        refused=[may_not_hold(one.part, one.reasons) for one in ahead.refused],
        remainder=wanted.remainder,
        unshared_litres=Decimal(str(ahead.juice.high)) * unshared,
        provisions=provision_facts(provisions, scheme),
        known=known_numbers(ahead, provisions, scheme),
        steps=steps_of(ahead, provisions, scheme),
    )


def _container(bring: ToBring) -> ContainerFacts:
    heaviest = max(bring.fillings, key=lambda filling: filling.kind.full_kg(filling.use))
    return ContainerFacts(
        bring=bring,
        uses=[str(UseChoice(filling.use).label) for filling in bring.fillings],
        heaviest_kg=heaviest.kind.full_kg(heaviest.use),
        crate=crate_weight(bring.kind, heaviest.use) if bring.kind.per_crate > 1 else None,
    )


def _bar(ahead: Ahead) -> Bar:
    low, expected = (round(litres * 1000 / ahead.juice.high) for litres in (ahead.juice.low, ahead.juice.expected))
    return Bar(low=low, expected=expected, between=1000 - low)


def _notes(form: PlanForm, result: Result | None) -> dict[Row, tuple[str, bool]]:
    """Beside each line: why its kind may not hold the juice, or how many of the kind to bring."""
    if result is None:
        return {}
    refused = {(one.part.use, one.part.kind): one for one in result.ahead.refused}
    numbers = {bring.kind: bring.number for bring in result.ahead.to_bring}
    notes = {}
    for row, part in form.readable_parts().items():
        if one := refused.get((part.use, part.kind)):
            notes[row] = may_not_hold(one.part, one.reasons), True
        elif number := numbers.get(part.kind):
            notes[row] = _("%(number)s to bring in all") % {"number": number}, False
    return notes


def _lent(kind: ContainerKind) -> str:
    return _("%(number)s to borrow from the scheme") % {"number": kind.lent} if kind.lent else ""

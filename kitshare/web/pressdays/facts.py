"""What the plan of a press day shows, as plain values: for its own page and for the booking's."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from kitshare.bookings.models import Booking
from kitshare.people.models import Member, Scheme
from kitshare.pressdays.actions import why_not_plan
from kitshare.pressdays.models import ContainerKind, PressPlan
from kitshare.pressdays.planning import UNSHARED, Draft, draft_of, size
from kitshare.pressdays.refusals import remainder_words
from kitshare.rules.sizing import ContainerCount, Sizing
from kitshare.rules.sizing_terms import LIFTING_GUIDE_KG, Quantity
from kitshare.web.pressdays.forms import PlanForm
from kitshare.web.pressdays.words import OF_A_KIND, SOURCE_WORDS, formula_words, title_of, value_words


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerFacts:
    """One kind of the mix: how many to bring, of which `filled` are filled."""

    kind: ContainerKind
    percent: int
    filled: int
    to_bring: int

    @property
    def for_breakage(self) -> int:
        return self.to_bring - self.filled


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A number that went into the reckoning, and where it comes from."""

    title: str
    amount: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A number that was worked out: how, and by what right."""

    title: str
    amount: str
    formula: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """The juice as a picture 1000 wide: where low, expected, high, and what the containers hold, come to lie."""

    low: int
    expected: int
    high: int
    held: int
    between: int  # from low to high


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What to expect of the day, what to bring, and how each number came about."""

    sizing: Sizing
    containers: list[ContainerFacts]
    remainder: int
    unshared_litres: Decimal
    over_litres: Decimal
    bar: Bar
    known: list[Known]
    steps: list[Step]

    @property
    def remainder_words(self) -> str:
        return remainder_words(self.remainder)

    @property
    def lifting_guide_kg(self) -> Decimal:
        return LIFTING_GUIDE_KG


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFacts:
    """The plan of a booking as one member sees it. Without a form it is only read, and `why_not` says why."""

    booking: Booking
    saved: PressPlan | None
    result: Result | None
    remainder: int  # of the mix that is shown, also where the yield cannot be read and there is no result
    form: PlanForm | None
    why_not: str
    no_kinds: bool
    keeps_kinds: bool

    @property
    def remainder_words(self) -> str:
        return remainder_words(self.remainder)

    @property
    def rows(self) -> list[tuple[Any, ContainerFacts | None]]:
        """Each field of the mix, with how many of that kind the result has."""
        counts = {container.kind.pk: container for container in self.result.containers} if self.result else {}
        return [(field, counts.get(kind.pk)) for kind, field in self.form.share_fields()] if self.form else []


def plan_facts(
    *, booking: Booking, member: Member, scheme: Scheme, typed: Mapping[str, Any] | None = None
) -> PlanFacts:
    """The plan of a booking: the saved one, else the scheme's usual one, else (`typed`) what somebody is trying out."""
    kinds = list(ContainerKind.objects.order_by("position", "pk"))
    draft = draft_of(booking, kinds)
    why_not = why_not_plan(booking=booking, by=member)
    no_kinds = not draft.shares and all(kind.retired_on for kind in kinds)
    form = PlanForm(draft=draft, kinds=kinds, data=typed) if not why_not and not no_kinds else None
    shown = form.draft() if form and typed is not None else draft
    return PlanFacts(
        booking=booking,
        saved=draft.plan,
        result=_result(shown, booking, scheme) if shown else None,
        remainder=form.remainder if form and typed is not None else draft.remainder,
        form=form,
        why_not=why_not,
        no_kinds=no_kinds,
        keeps_kinds=member.coordinates,
    )


def _result(draft: Draft, booking: Booking, scheme: Scheme) -> Result:
    sizing = size(draft, fruit_kg=booking.fruit_kg, pomace_sack_kg=scheme.pomace_sack_kg)
    by_key = {str(kind.pk): kind for kind in draft.shares}
    unshared = Decimal(max(draft.remainder, 0)) / 100
    return Result(
        sizing=sizing,
        containers=[
            _container(count, by_key[count.kind.key]) for count in sizing.containers if count.kind.key != UNSHARED
        ],
        remainder=draft.remainder,
        unshared_litres=sizing.juice_to_hold_litres * unshared,
        over_litres=max(sizing.juice_high_litres - sizing.juice_to_hold_litres, Decimal(0)),
        bar=_bar(sizing),
        known=_known(sizing, by_key),
        steps=_steps(sizing, by_key),
    )


def _container(count: ContainerCount, kind: ContainerKind) -> ContainerFacts:
    return ContainerFacts(kind=kind, percent=int(count.share * 100), filled=count.filled, to_bring=count.to_bring)


def _bar(sizing: Sizing) -> Bar:
    widest = max(sizing.juice_high_litres, sizing.juice_to_hold_litres)
    low, expected, high, held = (
        round(litres * 1000 / widest)
        for litres in (
            sizing.juice_low_litres,
            sizing.juice_expected_litres,
            sizing.juice_high_litres,
            sizing.juice_to_hold_litres,
        )
    )
    return Bar(low=low, expected=expected, high=high, held=held, between=high - low)


def _known(sizing: Sizing, by_key: Mapping[str, ContainerKind]) -> list[Known]:
    """Each number that went in, once, in the order of its first use."""
    known: dict[tuple[Quantity, str], Known] = {}
    worked_out = {line.result.quantity for line in sizing.lines}
    for line in sizing.lines:
        for value in line.inputs:
            if line.kind_key == UNSHARED or value.quantity in worked_out:
                continue
            kind_name = by_key[line.kind_key].name if value.quantity in OF_A_KIND else ""
            known.setdefault(
                (value.quantity, kind_name),
                Known(
                    title=title_of(value.quantity, kind_name),
                    amount=value_words(value),
                    source=str(SOURCE_WORDS[value.source]),
                ),
            )
    return list(known.values())


def _steps(sizing: Sizing, by_key: Mapping[str, ContainerKind]) -> list[Step]:
    return [
        Step(
            title=title_of(line.result.quantity, by_key[line.kind_key].name if line.kind_key else ""),
            amount=value_words(line.result),
            formula=formula_words(line),
            source=str(SOURCE_WORDS[line.source]),
        )
        for line in sizing.lines
        if line.kind_key != UNSHARED
    ]

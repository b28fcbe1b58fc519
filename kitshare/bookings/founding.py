"""The first day of a site: its scheme, coordinator, depot, season and first kit, all of it or nothing."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from kitshare.bookings import seasons
from kitshare.engine import deed
from kitshare.kits import actions as kits
from kitshare.kits.models import Kit
from kitshare.people import actions as people
from kitshare.people.models import Member, Scheme


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """What a scheme is asked before it starts. Without a kit name, no kit is made."""

    name: str
    telephone: str
    time_zone: str
    units: str
    coordinator_name: str
    coordinator_email: str
    password: str
    depot_name: str
    depot_directions: str
    season_name: str
    opens_on: date
    closes_on: date
    kit_name: str
    machines: Collection[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Founded:
    scheme: Scheme
    coordinator: Member
    kit: Kit | None


@deed
def found(*, beginning: Beginning, at: datetime) -> Founded:
    """Start the scheme with all that it needs before the first booking. Whoever comes second is refused."""
    started = people.start_scheme(
        name=beginning.name,
        telephone=beginning.telephone,
        time_zone=beginning.time_zone,
        units=beginning.units,
        coordinator_name=beginning.coordinator_name,
        coordinator_email=beginning.coordinator_email,
        password=beginning.password,
        at=at,
    )
    by = started.coordinator
    depot = kits.add_depot(name=beginning.depot_name, directions=beginning.depot_directions, by=by, at=at)
    seasons.add_season(
        name=beginning.season_name, opens_on=beginning.opens_on, closes_on=beginning.closes_on, by=by, at=at
    )
    kit = None
    if beginning.kit_name:
        kit = kits.add_kit(name=beginning.kit_name, depot=depot, by=by, at=at)
        kits.add_starter_machines(kit=kit, choices=beginning.machines, by=by, at=at)
    return Founded(scheme=started.scheme, coordinator=by, kit=kit)

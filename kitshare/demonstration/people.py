"""Who and where the demonstration is about: the Linnow Vale Pressing Share. All of it is invented."""

from dataclasses import dataclass
from typing import Final

PASSWORD: Final = "linnow-apples"  # noqa: S105 - it is printed on the sign-in page of the demonstration
SCHEME: Final = "Linnow Vale Pressing Share"
TELEPHONE: Final = "01632 960 100"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    name: str
    address: str | None
    telephone: str
    coordinates: bool = False
    maintains: bool = False
    village: str = ""


COORDINATOR: Final = Person(
    name="Perpetua Quillstone", address="perpetua@example.org", telephone=TELEPHONE, coordinates=True
)
RUNNERS: Final = (
    Person(name="Idris Vellacombe", address="idris@example.org", telephone="01632 960 101", coordinates=True),
    Person(name="Teodor Haskerby", address="teodor@example.org", telephone="01632 960 102", maintains=True),
    Person(name="Rukmini Fallowdene", address="rukmini@example.org", telephone="01632 960 103", maintains=True),
)
BORROWERS: Final = (
    Person(name="Sunniva Okparadine", address="sunniva@example.org", telephone="01632 960 110", village="Sorrelhythe"),
    Person(name="Leilani Crabbwater", address="leilani@example.org", telephone="01632 960 111", village="Fennerlow"),
    Person(name="Hamza Wetherlow", address="hamza@example.org", telephone="01632 960 112", village="Linnowby"),
    Person(name="Marek Ostrowick", address="marek@example.org", telephone="01632 960 113", village="Coldmallow"),
    Person(name="Agnes Pellowmere", address="agnes@example.org", telephone="01632 960 114", village="Upper Larkenhoe"),
    Person(name="Kofi Pellowmere", address="kofi@example.org", telephone="01632 960 115", village="Upper Larkenhoe"),
    Person(
        name="Zubaida Hartlemoss", address="zubaida@example.org", telephone="01632 960 116", village="Nether Larkenhoe"
    ),
    Person(
        name="Gwennol Trevassick", address="gwennol@example.org", telephone="01632 960 117", village="St Wenno's Cross"
    ),
    Person(name="Emrys ap Ferrow", address=None, telephone="01632 960 118", village="Tŷ-Ferrow"),
)
VILLAGES: Final = {
    "Withyhurn": "Home of the depot. Park behind the Old Goods Shed, not on the loading bank.",
    "Sorrelhythe": "Over the only bridge below the depot. First ripe in most years.",
    "Fennerlow": "Marsh. The causeway floods in November: ring before setting out.",
    "Linnowby": "School orchard; the caretaker opens the gate from eight.",
    "Coldmallow": "High and late. The road ices first; frost comes early.",
    "Upper Larkenhoe": "Steep lane: two people with the trailer, and never in the wet after dark.",
    "Nether Larkenhoe": "Not to be confused with Upper Larkenhoe: nine miles by road.",
    "St Wenno's Cross": "Pressing in the barn by the cross. Water from the standpipe.",
    "Tŷ-Ferrow": "Farthest village. No signal in the yard; telephone the day before.",
}

"""A fault, and deeds on it as it stands."""

import pytest

from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault


@pytest.fixture
def report(mill, sunniva, now):
    """Reports a fault of the mill, as Sunniva, unless told otherwise."""

    def report_it(**changes: object) -> Fault:
        facts = {"machine": mill, "part": None, "note": "It hums.", "severity": Severity.STOPS_USE}
        return upkeep.report_fault(**(facts | {"by": sunniva, "at": now} | changes))

    return report_it


@pytest.fixture
def do(teodor, now):
    """Does a deed on a fault as it stands, as Teodor, unless told otherwise."""

    def do_it(action, fault: Fault, **said: object) -> Fault:
        fault.refresh_from_db()
        action(**({"fault": fault, "by": teodor, "at": now, "revision": fault.revision} | said))
        fault.refresh_from_db()
        return fault

    return do_it

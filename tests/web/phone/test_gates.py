"""The phone stops for the same parts as the server: its rule in JavaScript beside the one in kitshare/rules/checklists.py."""

import itertools
import json
import shutil
import subprocess
from pathlib import Path

from kitshare.rules.checklists import CheckRefused, Condition, PartKind, Seen, stops_handover
from kitshare.web.phone import views
from tests.readers import absent

GATES = Path(views.__file__).parents[1] / "static" / "kitshare" / "phone" / "gates.js"
SCRIPT = """
import { stopReason } from "%s";
import { readFileSync } from "node:fs";
console.log(JSON.stringify(JSON.parse(readFileSync(0, "utf8")).map(stopReason)));
"""


def cases():
    """Every part that can be so: of each kind, one or three expected, none to four there, in each condition."""
    for kind, expected, count, condition, spare in itertools.product(
        PartKind, (1, 3), range(5), Condition, (False, True)
    ):
        try:
            seen = Seen(
                part_key="p", kind=kind, expected=expected, count=count, condition=condition, spare_fitted=spare
            )
        except CheckRefused:
            continue
        yield seen


def test_the_rule_on_the_phone_is_the_rule_of_the_server(tmp_path):
    node = shutil.which("node")
    if not node:
        absent("node")
    script = tmp_path / "ask.mjs"
    (tmp_path / "gates.mjs").write_text(GATES.read_text())
    script.write_text(SCRIPT % "./gates.mjs")
    asked = list(cases())
    told = [
        {"kind": one.kind, "expected": one.expected, "count": one.count, "condition": one.condition}
        | {"spare": one.spare_fitted}
        for one in asked
    ]

    done = subprocess.run([node, script], input=json.dumps(told), capture_output=True, text=True, check=True)

    assert json.loads(done.stdout) == [stops_handover(one) for one in asked]
    assert set(json.loads(done.stdout)) == {None, "missing", "damaged", "short"}

"""Readers of calendar text that others wrote, each giving the same few facts of every event.

vobject is a package of the tests. ical.js and node-ical come by npm, into a folder of the test run. libical judges by
the letter of RFC 5545 and 5546, where the system has it.
"""

import ctypes
import ctypes.util
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import vobject


@dataclass(frozen=True, slots=True, order=True)
class Read:
    """An event as a reader understood it."""

    uid: str
    start: str
    end: str
    summary: str
    description: str
    status: str
    sequence: int


def _iso(value: date) -> str:
    """A day as it is; a moment in UTC, as 2027-09-11T08:00:00Z."""
    return f"{value.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}" if isinstance(value, datetime) else value.isoformat()


def spans(events: list[Read]) -> list[Read]:
    """Those of whole days: one a booking. The others are its handovers, at their times."""
    return [event for event in events if "T" not in event.start]


def by_vobject(text: bytes) -> list[Read]:
    events = getattr(vobject.readOne(text.decode()), "vevent_list", [])
    assert all(type(event.dtstart.value) is type(event.dtend.value) for event in events)
    return sorted(
        Read(
            event.uid.value,
            _iso(event.dtstart.value),
            _iso(event.dtend.value),
            event.summary.value,
            event.description.value,
            event.status.value,
            int(event.sequence.value),
        )
        for event in events
    )


SCRIPT = """
import {createRequire} from "node:module";
import {readFileSync} from "node:fs";
import ICAL from "ical.js";

const nodeIcal = createRequire(import.meta.url)("node-ical");
const iso = moment => moment.toISOString().replace(".000Z", "Z");
const day = moment => iso(moment).slice(0, 10);
const read = time => time.isDate ? time.toString() : iso(time.toJSDate());

function byIcalJs(text) {
  const calendar = new ICAL.Component(ICAL.parse(text));
  return calendar.getAllSubcomponents("vevent").map(component => {
    const event = new ICAL.Event(component);
    if (event.startDate.isDate !== event.endDate.isDate) throw new Error("half a day: " + event.uid);
    return [event.uid, read(event.startDate), read(event.endDate), event.summary, event.description,
      component.getFirstPropertyValue("status"), event.sequence];
  });
}

function byNodeIcal(text) {
  return Object.values(nodeIcal.sync.parseICS(text)).filter(found => found.type === "VEVENT").map(event => {
    const write = event.datetype === "date" ? day : iso;
    return [event.uid, write(event.start), write(event.end), event.summary, event.description, event.status,
      Number(event.sequence)];
  });
}

const texts = JSON.parse(readFileSync(0, "utf8"));
console.log(JSON.stringify({"ical.js": texts.map(byIcalJs), "node-ical": texts.map(byNodeIcal)}));
"""

# The newest node-ical that runs on the node of Debian 12.
PACKAGES = ["ical.js@2", "node-ical@0.20"]

NodeReaders = Callable[[list[bytes]], dict[str, list[list[Read]]]]


def absent(what: str) -> None:
    """Where everything must be there, a reader that is not is a failure."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"Required here, and not there: {what}.")
    pytest.skip(f"Not on this machine: {what}.")


@pytest.fixture(scope="session")
def node_folder(tmp_path_factory) -> Path:
    """A folder with both packages, and with the script that calls them."""
    npm = shutil.which("npm")
    if not (npm and shutil.which("node")):
        absent("node and npm")
    folder: Path = tmp_path_factory.mktemp("node")
    (folder / "package.json").write_text('{"private": true}')
    (folder / "read.mjs").write_text(SCRIPT)
    command = [npm, "install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts", "--loglevel=error"]
    try:
        installed = subprocess.run([*command, *PACKAGES], cwd=folder, capture_output=True, text=True, timeout=240)
    except subprocess.TimeoutExpired:
        absent("npm packages in four minutes")
    if installed.returncode:
        absent(f"{' and '.join(PACKAGES)}, which npm could not install: {installed.stderr.strip()[-300:]}")
    return folder


@pytest.fixture(scope="session")
def by_node(node_folder) -> NodeReaders:
    """Reads calendars by ical.js and by node-ical: the events of each text, by the reader's name."""

    def read(texts: list[bytes]) -> dict[str, list[list[Read]]]:
        asked = json.dumps([text.decode() for text in texts])
        done = subprocess.run(
            ["node", "read.mjs"],
            cwd=node_folder,
            input=asked,
            capture_output=True,
            text=True,
            timeout=60,
            env=os.environ | {"TZ": "UTC"},
        )
        assert done.returncode == 0, done.stderr
        found = json.loads(done.stdout)
        return {name: [sorted(Read(*event) for event in text) for text in texts] for name, texts in found.items()}

    return read


class Libical:
    """The reference library in C, by its own calls."""

    def __init__(self, path: str) -> None:
        self.calls = calls = ctypes.CDLL(path)
        calls.icalparser_parse_string.argtypes = [ctypes.c_char_p]
        calls.icalparser_parse_string.restype = ctypes.c_void_p
        calls.icalcomponent_as_ical_string.argtypes = [ctypes.c_void_p]
        calls.icalcomponent_as_ical_string.restype = ctypes.c_char_p
        for name in ("icalrestriction_check", "icalcomponent_count_errors", "icalcomponent_free"):
            getattr(calls, name).argtypes = [ctypes.c_void_p]

    def complaints(self, text: bytes) -> list[str]:
        """What breaks RFC 5545, or RFC 5546 for the METHOD that it names; nothing where all is well."""
        component = self.calls.icalparser_parse_string(text)
        if not component:
            return ["no calendar at all"]
        well = self.calls.icalrestriction_check(component)
        written = self.calls.icalcomponent_as_ical_string(component).decode().replace("\r\n ", "")
        found = [line for line in written.split("\r\n") if line.startswith("X-LIC-ERROR")]
        self.calls.icalcomponent_free(component)
        return found if found or well else ["a restriction is broken"]


@pytest.fixture(scope="session")
def libical() -> Libical:
    path = ctypes.util.find_library("ical")
    if not path:
        absent("libical")
    return Libical(path)


def property_lines(text: bytes, name: str) -> list[str]:
    """The unfolded lines of a property, byte for byte, parameters and all."""
    unfolded = text.replace(b"\r\n ", b"").decode()
    return [line for line in unfolded.split("\r\n") if line.partition(":")[0].partition(";")[0] == name]


def check_bytes(text: bytes) -> None:
    """What readers forgive and RFC 5545 does not (3.1, 3.3.11, 3.6.1, 3.6.5)."""
    assert text.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert b"\r" not in text.replace(b"\r\n", b"")
    lines = text.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    for line in lines:
        line.decode()  # no character is cut in two where a line folds
    assert not any(byte < 0x20 and byte != 0x09 for byte in text.replace(b"\r\n", b""))
    events = text.count(b"BEGIN:VEVENT\r\n")
    uids = property_lines(text, "UID")
    assert len(uids) == len(set(uids)) == events
    assert b"TZID" not in text  # nothing names a time zone, so none is missing
    assert events == len(property_lines(text, "DTSTAMP"))
    assert all(line.endswith("Z") for line in property_lines(text, "DTSTAMP"))
    for name in ("SUMMARY", "DESCRIPTION", "NAME"):
        for line in property_lines(text, name):
            value = line.partition(":")[2].replace("\\\\", "").replace("\\,", "").replace("\\;", "").replace("\\n", "")
            assert not set(value) & set(",;\\"), line

"""Every deed writes a line in the logbook: read from the code, by following what each deed calls."""

import ast
import functools

from tests.architecture.source import Function, decorators, modules

WRITER = "kitshare/logbook/actions.py:write"
# Deeds that write no line, each with the reason.
SILENT = {
    "kitshare/serving/actions.py:hold_lease": "which process rings: nobody did it",
    "kitshare/serving/actions.py:give_lease_back": "which process rings: nobody did it",
    "kitshare/outbox/actions.py:queue": "the message is kept for good, and is itself the record",
    "kitshare/outbox/actions.py:_claim": "a sender's own bookkeeping on the message",
    "kitshare/outbox/actions.py:_mark_sent": "a sender's own bookkeeping on the message",
    "kitshare/outbox/actions.py:_mark_failed": "a sender's own bookkeeping on the message",
    "kitshare/reminders/actions.py:_queue": "queues messages, which are the record",
    "kitshare/outbox/actions.py:call_about": "a line on the list of calls, which is itself the record",
    "kitshare/outbox/digests.py:_gather": "gathers messages, which are the record",
    "kitshare/outbox/digests.py:let_go": "when waiting messages go; what was chosen is told",
    "kitshare/outbox/digests.py:drop_reminders": "keeps messages back; what was chosen is told",
    "kitshare/outbox/bounces.py:take": "what a mail server said is kept on the message, and as a row",
    "kitshare/people/missed_calls.py:tell_of_missed": "queues messages, which are the record",
    "kitshare/outbox/returns.py:note_refused": "what a mail server said is kept as a row",
    "kitshare/outbox/returns.py:note_taken": "a sender's own bookkeeping on the address",
    "kitshare/checks/actions.py:_add_photo": "a photo is shown with who took it and when; the check that signs it is told",
    "kitshare/checks/arriving.py:keep_sheet": "the sheet as it came is itself the record; judging it writes the line",
    "kitshare/checks/arriving.py:_join": "a photo finds the sheet that named it",
    "kitshare/checks/pausing.py:pause_sheet": "a check not made yet: the one that is made writes the line",
    "kitshare/bookings/feeds.py:_note_change": "since when a feed says what it says: nobody did it",
    "kitshare/upkeep/care.py:have_calendar": "an empty row; whoever gives it an address writes the line",
    "kitshare/bringing/actions.py:keep": "a file only looked at: nothing is made or promised",
    "kitshare/bringing/actions.py:throw_away": "forgets a file only looked at",
    "kitshare/bringing/actions.py:_forget": "forgets what was read a week ago; the bookings and their lines stay",
    "kitshare/pressdays/heat_drafts.py:keep": "a log only looked at: nothing is recorded",
    "kitshare/pressdays/heat_drafts.py:throw_away": "forgets a log only looked at",
    "kitshare/pressdays/heat_drafts.py:_forget": "forgets logs that nobody saved; the records and their lines stay",
    "kitshare/works/actions.py:ask": "the row says who asked and when; what the work does writes its own lines",
    "kitshare/works/actions.py:cancel": "the row says who cancelled; nothing was made",
    **{
        f"kitshare/works/actions.py:{name}": "a worker's own bookkeeping on the row"
        for name in ("take_up", "note_progress", "finish", "give_up", "stop", "lay_down", "_forget")
    },
    "kitshare/watch/actions.py:note_round": "that the clock ran: nobody did it, and it is written each minute",
    "kitshare/people/sign_ins.py:begin_try": "kept for minutes, as keyed hashes: who tried to sign in is nobody's business",
    "kitshare/people/sign_ins.py:succeed": "forgets the tries",
}


@functools.cache
def functions() -> dict[str, Function]:
    """Every function and method by its module and name: "kitshare/kits/actions.py:add_kit"."""
    return {
        f"{module}:{node.name}": node
        for module, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, Function)
    }


@functools.cache
def imports(module: str) -> dict[str, str]:
    """What each imported name of a module stands for, as a path: a module of ours, or "module:function"."""
    found = {}
    for node in ast.walk(modules()[module]):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("kitshare"):
            base = (node.module or "").replace(".", "/")
            for alias in node.names:
                name = alias.asname or alias.name
                is_module = f"{base}/{alias.name}.py" in modules()
                found[name] = f"{base}/{alias.name}.py" if is_module else f"{base}.py:{alias.name}"
    return found


def called(place: str) -> set[str]:
    """The functions of ours that one function calls, as far as names tell."""
    module, known = place.partition(":")[0], imports(place.partition(":")[0])
    found = set()
    for node in ast.walk(functions()[place]):
        if not isinstance(node, ast.Call):
            continue
        match node.func:
            case ast.Name(id=name):
                found.add(known.get(name, f"{module}:{name}"))
            case ast.Attribute(value=ast.Name(id=owner), attr=name) if owner in known:
                found.add(f"{known[owner]}:{name}")
            case ast.Attribute(attr=name):  # a method: of a class in this module, or of one that is imported here
                found.add(f"{module}:{name}")
                found |= {f"{path.partition(':')[0]}:{name}" for path in known.values() if ":" in path}
    return found & set(functions())


def writes(place: str) -> bool:
    """Whether following the calls leads to the logbook."""
    waiting, seen = [place], {place}
    while waiting:
        for one in called(waiting.pop()) - seen:
            if one == WRITER:
                return True
            seen.add(one)
            waiting.append(one)
    return False


def deeds() -> set[str]:
    return {place for place, node in functions().items() if "deed" in decorators(node)}


def test_every_deed_writes_its_line():
    assert len(deeds()) > 60
    assert {place for place in deeds() - set(SILENT) if not writes(place)} == set()


def test_what_is_silent_is_a_deed_and_really_is():
    assert {place for place in SILENT if place not in deeds() or writes(place)} == set()


def test_whatever_writes_to_the_database_for_people_is_a_deed():
    """Every public function in a module of actions is a deed, or calls nothing but deeds to write."""
    bare = {
        place
        for place, node in functions().items()
        if "/actions.py:" in place
        and place != WRITER
        and not node.name.startswith("_")
        and "by" in {a.arg for a in node.args.kwonlyargs}
        if "deed" not in decorators(node)
        if not node.name.startswith(("check_", "why_"))
    }

    assert bare <= {"kitshare/checks/actions.py:keep_photo"}  # reads the picture first, outside of any transaction

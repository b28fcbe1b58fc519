"""The two commands for scripts: one object or one sentence, and never a database."""

import json
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

PROJECT = Path(__file__).parents[2]
GOOD = "minute,temp_c\n0,20\n5,65\n10,85\n15,80\n20,78\n25,76\n30,75\n35,60\n"


def run(*args: str, stdin: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    """Run a command as a script would, with a database that nobody could reach."""
    env = {**os.environ, "DATABASE_URL": "postgres://nobody@127.0.0.1:9/nowhere", "PYTHONWARNINGS": ""}
    return subprocess.run(
        [sys.executable, "manage.py", *args],
        cwd=PROJECT,
        env=env,
        input=stdin,
        capture_output=True,
        timeout=60,
        check=False,
    )


def answer(*args: str) -> dict:
    out = StringIO()
    call_command(*args, "--json", stdout=out)
    return json.loads(out.getvalue())


def refusal(*args: str) -> str:
    with pytest.raises(CommandError) as refused:
        call_command(*args, "--json", stdout=StringIO())
    return str(refused.value)


@pytest.fixture
def log(tmp_path):
    def write(text: str | bytes) -> str:
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return str(path)

    return write


# plan_pressday


def test_a_plan_is_one_object():
    found = answer("plan_pressday", "--fruit-kg", "400")

    assert found["juice_litres"]["low"] < found["juice_litres"]["expected"] == 220 < found["juice_litres"]["high"]
    (bottles,) = found["containers"]
    assert bottles["count"] * bottles["fill_litres"] >= found["juice_litres"]["high"]
    assert found["pomace_kg"] == pytest.approx(400 - 220 * 1.0465)
    assert found["sacks"] * 15 >= found["pomace_kg"]
    assert found["ascorbic_acid_g"] == 110
    assert found["finish_minutes"] > 0
    assert found["bottleneck"] == "heat"
    assert any("published range" in warning for warning in found["warnings"])


def test_juice_is_split_over_containers_and_uses():
    found = answer(
        "plan_pressday", "--fruit-kg", "100",
        "--container", "bottle_750=0.5", "--container", "demijohn_5:heated=0.25", "--container", "tub_1=0.25",
        "--helpers", "3",
    )  # fmt: skip

    assert [(c["kind"], c["use"]) for c in found["containers"]] == [
        ("bottle_750", "heated"),
        ("demijohn_5", "heated"),
        ("tub_1", "frozen"),
    ]
    shares = [c["count"] * c["fill_litres"] / found["juice_litres"]["high"] for c in found["containers"]]
    assert shares == [pytest.approx(share, abs=0.07) for share in (0.5, 0.25, 0.25)]


def test_each_batch_in_the_bath_is_told_with_its_kind():
    typed = ("plan_pressday", "--fruit-kg", "150", "--container", "bottle_750=0.5", "--container", "bag_5=0.5")

    found = answer(*typed)
    out = StringIO()
    call_command(*typed, stdout=out)

    # 82.5 litres: 41.25 in bags of 4.992 and as much in bottles of 0.7488, ten and 69 in a rack.
    assert [(one["batch"], one["kind"], one["count"], one["litres"]) for one in found["heat"]] == [
        (1, "bag_5", 9, 41.25),
        (2, "bottle_750", 56, 41.25),
    ]
    assert found["heat_batches"] == 2
    assert found["heat"][0]["out_minutes"] == pytest.approx(found["heat"][1]["in_minutes"], abs=0.1)
    assert found["heat"][1]["out_minutes"] + 60 == pytest.approx(found["finish_minutes"], abs=0.1)
    assert "each of one kind, in this order: 1 of bag_5 (9), 1 of bottle_750 (56)." in out.getvalue()


def test_more_helpers_end_the_day_no_later():
    few = answer("plan_pressday", "--fruit-kg", "400", "--helpers", "1")
    many = answer("plan_pressday", "--fruit-kg", "400", "--helpers", "9")

    assert many["finish_minutes"] < few["finish_minutes"]


def test_a_plan_in_sentences():
    out = StringIO()
    call_command("plan_pressday", "--fruit-kg", "400", stdout=out)

    assert "between 160 and 280 litres" in out.getvalue()
    assert "the rest waits for the heating" in out.getvalue()
    assert "each of one kind" not in out.getvalue()


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--fruit-kg", "0"), "--fruit-kg must lie between"),
        (("--fruit-kg", "500000"), "--fruit-kg must lie between"),
        (("--fruit-kg", "some"), "must be a number"),
        (("--fruit-kg", "nan"), "--fruit-kg must lie between"),
        (("--fruit-kg", "40", "--helpers", "0"), "--helpers must lie between"),
        (("--fruit-kg", "40", "--target-c", "20"), "--target-c must lie between"),
        (("--fruit-kg", "40", "--container", "bottle_750"), "KIND=SHARE"),
        (("--fruit-kg", "40", "--container", "barrel=1"), "There is no container"),
        (("--fruit-kg", "40", "--container", "bottle_750:boiled=1"), "There is no use"),
        (("--fruit-kg", "40", "--container", "bottle_750=most"), "must be a number"),
        (("--fruit-kg", "40", "--container", "bottle_750=0.5"), "add up to 1"),
        (("--fruit-kg", "40", "--container", "tub_1=0.5", "--container", "tub_1=0.5"), "twice"),
        (("--fruit-kg", "40", "--container", "pet_2:heated=1"), "bears 49 °C"),
        (("--fruit-kg", "40", "--target-c", "99"), "must lie between"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_a_sentence(args, words):
    sentence = refusal("plan_pressday", *args)

    assert words in sentence
    assert "\n" not in sentence


# judge_heat


def test_a_good_log_is_held(log):
    found = answer("judge_heat", log(GOOD), "--probe-offset-c", "0", "--ph", "3.4")

    assert found["verdict"] == "held"
    assert found["reasons"] == found["reason_codes"] == found["remedies"] == []
    assert found["reached_at_minutes"] == 7.5
    assert found["hold_minutes"] == 22.5
    assert found["lowest_in_hold_c"] == 75
    assert found["pu_60_7"] > 2779
    assert set(found["logs"]) == {"cryptosporidium", "e_coli_o157"}


def test_a_probe_nobody_checked_is_said(log):
    found = answer("judge_heat", log(GOOD))

    assert found["verdict"] == "held"
    assert "probe_never_checked" in found["reason_codes"]
    assert any("never checked" in reason for reason in found["reasons"])


def test_a_probe_that_reads_high_loses_the_hold(log):
    found = answer("judge_heat", log(GOOD), "--probe-offset-c", "-2")

    assert found["verdict"] == "not_shown"
    assert "hold_too_short" in found["reason_codes"]


def test_another_recommendation_may_be_asked_for(log):
    assert answer("judge_heat", log(GOOD), "--target-c", "80", "--hold-minutes", "5")["verdict"] == "held"
    assert answer("judge_heat", log(GOOD), "--target-c", "80", "--hold-minutes", "15")["verdict"] == "not_shown"


def test_a_verdict_in_sentences_never_says_safe(log):
    out = StringIO()
    call_command("judge_heat", log(GOOD), stdout=out)

    assert out.getvalue().startswith("Held as recommended.")
    assert "Longest hold: 22.5 minutes" in out.getvalue()
    assert "safe" not in out.getvalue().lower()


def test_a_log_too_cold_says_what_to_do_now(log):
    out = StringIO()
    call_command("judge_heat", log("0,20\n5,60\n10,70\n"), stdout=out)

    assert out.getvalue().startswith("Not shown to be held")
    assert "Heat the batch again" in out.getvalue()


def test_an_answer_about_units_settles_the_question(log):
    text = "time,temp\n14:00,68\n14:05,176\n14:10,176\n14:15,176\n14:20,176\n14:25,176\n"

    assert "--unit C or --unit F" in refusal("judge_heat", log(text))
    assert answer("judge_heat", log(text), "--unit", "F")["verdict"] == "held"


def test_an_answer_about_minutes_settles_the_question(log):
    text = "".join(f"{second},76\n" for second in range(0, 1300, 20))

    assert "minutes or seconds" in refusal("judge_heat", log(text))
    assert answer("judge_heat", log(text), "--time-unit", "s")["hold_minutes"] == pytest.approx(1280 / 60, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing in this log"),
        (bytes(range(256)), "not text"),
        ("a log of words", "No line has"),
        ("14:00,20\n14:05,300\n", "Line 2: 300 is no temperature"),
        ("14:00,20\n14:05,-40\n", "Line 2: -40 is no temperature"),
        ("14:00,20\n14:05,30\n13:00,40\n", "Line 3: The time runs backwards"),
        ("14:00,20\n14:05,warm\n", "Line 2: “warm” is not a temperature"),
    ],
)
def test_a_log_that_cannot_be_read_is_refused_in_a_sentence(log, text, words):
    sentence = refusal("judge_heat", log(text))

    assert words in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--target-c", "20"), "--target-c must lie between"),
        (("--hold-minutes", "0"), "--hold-minutes must lie between"),
        (("--probe-offset-c", "40"), "--probe-offset-c must lie between"),
        (("--ph", "15"), "--ph must lie between"),
        (("--target-c", "nan"), "--target-c must lie between"),
    ],
)
def test_options_out_of_range_are_refused_in_a_sentence(log, args, words):
    assert words in refusal("judge_heat", log(GOOD), *args)


def test_a_file_that_is_not_there_is_refused_in_a_sentence(tmp_path):
    assert "cannot be read: No such file" in refusal("judge_heat", str(tmp_path / "none.csv"))
    assert "cannot be read: Is a directory" in refusal("judge_heat", str(tmp_path))
    assert "cannot be read" in refusal("judge_heat", "a\0b")


# As a script runs them


def test_both_answer_without_a_database(log):
    plan = run("plan_pressday", "--fruit-kg", "400", "--json")
    verdict = run("judge_heat", "-", "--json", stdin=GOOD.encode())

    assert (plan.returncode, plan.stderr) == (0, b"")
    assert json.loads(plan.stdout)["juice_litres"]["expected"] == 220
    assert (verdict.returncode, verdict.stderr) == (0, b"")
    assert json.loads(verdict.stdout)["verdict"] == "held"


@pytest.mark.parametrize(
    "args",
    [
        ("plan_pressday", "--json"),
        ("plan_pressday", "--fruit-kg", "400", "--helpers", "many"),
        ("plan_pressday", "--fruit-kg", "0"),
        ("judge_heat", "/nowhere/log.csv"),
        ("judge_heat", "-", "--unit", "K"),
    ],
)
def test_a_refusal_is_one_sentence_and_exit_code_one(args):
    found = run(*args)

    assert found.returncode == 1
    assert found.stdout == b""
    sentence = found.stderr.decode().strip()
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert "Traceback" not in sentence
    assert "CommandError" not in sentence

"""`deploy/env.example` against the code, and the files of the server, that read the environment."""

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

from tests.architecture.source import OURS, modules

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
EXAMPLE = (DEPLOY / "env.example").read_text()
READERS = {"env", "environ", "getenv", "_number"}
OF_DJANGO = {"DJANGO_SETTINGS_MODULE"}


def read_by_the_code() -> set[str]:
    """Every name that is asked of the environment, as `env.str("NAME")`, `os.environ["NAME"]` or `os.environ.get("NAME")`."""
    found = set()
    for tree in modules().values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and set(re.findall(r"\w+", ast.unparse(node.func))) & READERS and node.args:
                asked = node.args[0]
            elif isinstance(node, ast.Subscript) and ast.unparse(node.value).rpartition(".")[2] == "environ":
                asked = node.slice
            else:
                continue
            if isinstance(asked, ast.Constant) and re.fullmatch(r"[A-Z][A-Z0-9_]+", str(asked.value)):
                found.add(asked.value)
    return found - OF_DJANGO


def filled_in_by_the_composer() -> set[str]:
    """Every `${NAME}` of the compose file."""
    return set(re.findall(r"(?<!\$)\$\{(\w+)", (DEPLOY / "compose.yaml").read_text()))


def explained() -> dict[str, str]:
    """Every name in the file, with the words right above it."""
    found, words = {}, []
    for line in EXAMPLE.splitlines():
        if named := re.match(r"(?:# )?([A-Z][A-Z0-9_]+)=", line):
            found[named[1]] = " ".join(words)
            words = []
        else:
            words = [*words, line] if line.startswith("#") else []
    return found


def test_the_code_and_the_composer_read_what_the_file_names_and_nothing_else():
    assert OURS.exists()
    assert {"KITSHARE_SETUP_WORD", "DATABASE_URL", "KITSHARE_WEB_THREADS"} <= read_by_the_code()
    assert {"KITSHARE_ADDRESS", "POSTGRES_PASSWORD"} <= filled_in_by_the_composer()
    assert set(explained()) == read_by_the_code() | filled_in_by_the_composer()


def test_each_name_is_explained_in_words():
    assert {name for name, words in explained().items() if len(words.split()) < 6} == set()


def test_a_shell_and_a_reader_of_lines_take_the_same_from_it(tmp_path):
    """Cron's line reads the file with a shell, systemd and the composer line by line, without quotes (systemd.exec(5))."""
    settings = tmp_path / "server.env"
    settings.write_text(
        "".join(f"{line}\n" for line in re.findall(r"^(?:# )?([A-Z][A-Z0-9_]+=.*)$", EXAMPLE, re.MULTILINE))
    )
    by_line = dict(line.split("=", 1) for line in settings.read_text().splitlines())
    show = f"{sys.executable} -c 'import json, os; print(json.dumps(dict(os.environ)))'"

    said = subprocess.run(["sh", "-c", f"set -ae; . {settings}; {show}"], capture_output=True, text=True, check=False)

    assert (said.returncode, said.stderr) == (0, "")
    by_shell = json.loads(said.stdout)
    assert {name: by_shell[name] for name in by_line} == {name: value.strip("'") for name, value in by_line.items()}

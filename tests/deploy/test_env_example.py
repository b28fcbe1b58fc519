"""`deploy/env.example` against the code that reads the environment."""

import ast
import re
from pathlib import Path

from tests.architecture.source import OURS, modules

EXAMPLE = (Path(__file__).resolve().parents[2] / "deploy" / "env.example").read_text()
READERS = {"env", "environ", "getenv"}
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
            if isinstance(asked, ast.Constant) and isinstance(asked.value, str):
                found.add(asked.value)
    return found - OF_DJANGO


def explained() -> dict[str, str]:
    """Every name in the file, with the words right above it."""
    found, words = {}, []
    for line in EXAMPLE.splitlines():
        if named := re.match(r"(?:# )?([A-Z][A-Z_]+)=", line):
            found[named[1]] = " ".join(words)
            words = []
        else:
            words = [*words, line] if line.startswith("#") else []
    return found


def test_the_code_reads_what_the_file_names_and_nothing_else():
    assert OURS.exists()
    assert {"KITSHARE_SETUP_WORD", "DATABASE_URL"} <= read_by_the_code()
    assert set(explained()) == read_by_the_code()


def test_each_name_is_explained_in_words():
    assert {name for name, words in explained().items() if len(words.split()) < 6} == set()

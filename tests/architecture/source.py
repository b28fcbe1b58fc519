"""The project's own source as trees, read once for all promises about the code."""

import ast
import functools
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OURS = ROOT / "kitshare"
Function = ast.FunctionDef | ast.AsyncFunctionDef


@functools.cache
def modules() -> dict[str, ast.Module]:
    """Every module but migrations, by its path from the top."""
    files = sorted(file for file in OURS.rglob("*.py") if "migrations" not in file.parts)
    return {file.relative_to(ROOT).as_posix(): ast.parse(file.read_text()) for file in files}


def functions() -> Iterator[tuple[str, Function]]:
    """Every function and method, with where it stands."""
    for name, tree in modules().items():
        for node in ast.walk(tree):
            if isinstance(node, Function):
                yield f"{name}:{node.lineno} {node.name}", node


def decorators(function: Function) -> set[str]:
    """The last words of what decorates a function: `deed`, `fixture`, `require_POST`."""
    found = (node.func if isinstance(node, ast.Call) else node for node in function.decorator_list)
    return {ast.unparse(node).rpartition(".")[2] for node in found}

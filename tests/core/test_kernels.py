"""What compiled code that is kept on disk must not do."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import duskline.core

CORE = Path(duskline.core.__file__).parent
KERNELS = sorted(path for path in CORE.glob("*.py") if "njit" in path.read_text(encoding="utf-8"))
SORTS = {"sort", "median", "partition", "unique", "quantile", "percentile", "nanmedian"}


def compiled_calls(path: Path) -> set[str]:
    """Return the names of all methods, and of functions of other modules, that a module calls."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {node.func for node in ast.walk(tree) if isinstance(node, ast.Call)}
    return {func.attr for func in called if isinstance(func, ast.Attribute)}


def test_there_are_compiled_modules_and_one_of_them_puts_numbers_in_order() -> None:
    """Else the next test says nothing."""
    assert len(KERNELS) >= 8
    assert any("argsort" in compiled_calls(path) for path in KERNELS)


@pytest.mark.parametrize("path", KERNELS, ids=lambda path: path.stem)
def test_no_compiled_module_sorts_but_by_argsort(path: Path) -> None:
    """Numba names the inside of its sort and of its argsort alike, but for a running number.

    Two kept on disk by different processes may bear one name, and a third process then takes one
    for the other: a sort that leaves all as it was.
    """
    assert not compiled_calls(path) & SORTS

"""``python -m tests.mutation [MODULE…]``: change one thing at a time in the rules and see whether a test fails.

Each mutant lives in a forked child only: the child loads the changed module in place of the real one and runs the tests
of the standards core, the agreement with the naive rules on a twentieth of the cases. Survivors are printed, one a
line; what they mean stands in docs/mutation.md. Not part of the test run (it takes half an hour).
"""

from __future__ import annotations

import ast
import contextlib
import copy
import importlib.abc
import importlib.util
import io
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).parents[1]
MODULES = (
    "thickness", "thickness_pa2", "thickness_iso19840", "thickness_imo", "thickness_custom", "extent", "sampling",
    "sampling_choice", "verification", "verification_shims", "pa2_spots",
)  # fmt: skip
REFERENCE = ("tests/reference/test_thickness.py", "tests/reference/test_verification.py")
RULES = ("tests/standards/test_acceptance.py", "tests/standards/test_planning.py", "tests/standards/test_gauges.py")
SLOW = ("tests/standards/test_pa2_spots.py", "tests/standards/test_properties.py", "tests/standards/test_agreement.py")
OPTIONS = (
    "-q", "-x", "-p", "no:cacheprovider", "--noconftest", "-o", "addopts=", "-o", "filterwarnings=",
    "-k", "not hundred_thousand and not every_vector",
)  # fmt: skip
PRELOADED = ("pytest", "numpy", "hypothesis", "hypothesis.strategies", "scipy.special", "scipy.stats", "uncertainties")
SECONDS = 240

COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.Mod: ast.Mult,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any", "ceil": "floor", "hypot": "dist"}


def mutants(tree: ast.Module) -> Iterator[tuple[ast.Module, str]]:
    """Each changed tree with a line that says what was changed."""
    for index, node in enumerate(_code_nodes(tree)):
        for change, what in _changes(node):
            mutant = copy.deepcopy(tree)
            change(list(_code_nodes(mutant))[index])
            yield ast.fix_missing_locations(mutant), f"{getattr(node, 'lineno', 0)}: {what}"


def _code_nodes(tree: ast.AST) -> Iterator[ast.AST]:
    """What computes: no annotations, docstrings, decorators, or texts that are only told."""
    for child in ast.iter_child_nodes(tree):
        skipped = isinstance(child, ast.Import | ast.ImportFrom | ast.arguments | ast.JoinedStr)
        if isinstance(tree, ast.FunctionDef | ast.ClassDef) and child in tree.decorator_list:
            skipped = True
        if isinstance(tree, ast.AnnAssign) and child is tree.annotation:
            skipped = True
        if isinstance(tree, ast.FunctionDef) and child is tree.returns:
            skipped = True
        if not skipped:
            yield child
            yield from _code_nodes(child)


def _changes(node: Any) -> Iterator[tuple[Any, str]]:
    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            other = COMPARISONS[type(operator)]
            yield (
                (lambda n, at=at, other=other: n.ops.__setitem__(at, other())),
                f"{ast.unparse(node)}: {other.__name__}",
            )
    elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in ARITHMETIC:
        other_op = ARITHMETIC[type(node.op)]
        yield (lambda n: setattr(n, "op", other_op())), f"{ast.unparse(node)}: {other_op.__name__}"
    elif isinstance(node, ast.BoolOp):
        opposite = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield (lambda n: setattr(n, "op", opposite())), f"{ast.unparse(node)}: {opposite.__name__}"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield (
            (lambda n: (setattr(n, "op", ast.UAdd()), setattr(n, "operand", _truth(n.operand)))),
            f"{ast.unparse(node)}: +",
        )
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield (lambda n: setattr(n, "value", not n.value)), f"{node.value}: {not node.value}"
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield (lambda n: setattr(n, "value", n.value + 1)), f"{node.value}: {node.value + 1}"
    elif isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in CALLS:
        name = ast.unparse(node.func).split(".")[-1]
        yield (lambda n: _rename(n.func, CALLS[name])), f"{ast.unparse(node)}: {CALLS[name]}"


def _truth(operand: ast.expr) -> ast.expr:
    return ast.Call(ast.Name("bool", ast.Load()), [operand], [])


def _rename(function: Any, name: str) -> None:
    setattr(function, "id" if isinstance(function, ast.Name) else "attr", name)


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads the mutant in place of the real module."""

    def __init__(self, name: str, tree: ast.Module) -> None:
        self.name, self.tree = name, tree

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> Any:
        return importlib.util.spec_from_loader(name, self) if name == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, self.name, "exec"), module.__dict__)


def _fate(work: tuple[str, ast.Module]) -> str:
    """Run the tests against one mutant in a child of its own: killed by a test, survived, or hung."""
    child = os.fork()
    if child == 0:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            os.dup2(nowhere.fileno(), 2)
        os._exit(_run_tests(*work))
    end = time.monotonic() + SECONDS
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "killed" if os.waitstatus_to_exitcode(status) else "survived"
        time.sleep(0.05)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "hung"


def _run_tests(name: str, tree: ast.Module) -> int:
    import hypothesis
    import pytest

    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    sys.meta_path.insert(0, _Changed(name, tree))
    hypothesis.settings.register_profile("no shrinking", phases=[hypothesis.Phase.generate])
    hypothesis.settings.load_profile("no shrinking")
    try:
        agreement = importlib.import_module("tests.standards.test_agreement")
        agreement.CASES = {rule: cases // 20 for rule, cases in agreement.CASES.items()}
        registry = importlib.import_module("inspection.standards.registry")
        registry.MODULES = tuple(module for module in registry.MODULES if module in (*MODULES, "guidance"))
        return int(any(pytest.main([*OPTIONS, *files]) for files in (RULES, REFERENCE, SLOW)))
    except BaseException:
        return 3


def main(modules: tuple[str, ...]) -> None:
    """Print survivors and a count for each module."""
    for preload in PRELOADED:
        importlib.import_module(preload)
    os.chdir(ROOT)
    for module in modules or MODULES:
        tree = ast.parse((ROOT / "inspection" / "standards" / f"{module}.py").read_text(encoding="utf-8"))
        work, told = [], []
        for mutant, what in mutants(tree):
            work.append((f"inspection.standards.{module}", mutant))
            told.append(what)
        with multiprocessing.get_context("fork").Pool(2, maxtasksperchild=50) as pool:
            fates = list(pool.imap(_fate, work))
        for what, fate in zip(told, fates, strict=True):
            if fate != "killed":
                sys.stdout.write(f"{fate}  {module}:{what}\n")
        sys.stdout.write(f"{module}: {fates.count('killed')} of {len(fates)} killed, {fates.count('hung')} hung\n")
        sys.stdout.flush()


if __name__ == "__main__":
    with contextlib.redirect_stderr(io.StringIO()):
        main(tuple(sys.argv[1:]))

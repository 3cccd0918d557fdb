"""The house rules: imports run downward only, every public thing has a docstring that names its parameters in order."""

import ast
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

import fieldgeo

PACKAGE = Path(fieldgeo.__file__).parent
# Each may import those before it, and modules beside it in the same package.
ORDER = (
    "errors", "units", "zones", "frame", "outline", "machinery", "layout", "travel", "analysis", "terrain", "season",
    "export", "report", "desk", "cli",
)  # fmt: skip
FILES = sorted(PACKAGE.rglob("*.py"))
# What only starts the program stands above everything.
TOP = {"__init__", "__main__"}


def floor_of(parts: tuple[str, ...]) -> int:
    """Return the place in the order of a module given as path parts below the package."""
    first = "cli" if parts[0].startswith("cli") else parts[0]
    return len(ORDER) if first in TOP else ORDER.index(first)


def module_parts(file: Path) -> tuple[str, ...]:
    return file.relative_to(PACKAGE).with_suffix("").parts


def imports(tree: ast.AST) -> list[tuple[str, ...]]:
    """Return the modules of this package that a tree imports anywhere, functions too, as path parts."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out in full"
            names = [node.module or ""]
            if node.module == "fieldgeo":
                names = [f"fieldgeo.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        found.extend(tuple(name.split(".")[1:]) for name in names if name.split(".")[0] == "fieldgeo")
    return [parts for parts in found if parts]


@pytest.mark.parametrize("file", FILES, ids=lambda file: "/".join(module_parts(file)))
def test_imports_run_downward(file: Path) -> None:
    here = floor_of(module_parts(file))
    for parts in imports(ast.parse(file.read_text(encoding="utf-8"))):
        if parts[0] not in {name.split(".")[0] for name in (*ORDER, *TOP)} and not parts[0].startswith("cli"):
            continue  # a public name of the package itself
        assert floor_of(parts) <= here, f"{file.name} imports {'.'.join(parts)}, which stands above it"


def test_every_module_has_its_place_in_the_order() -> None:
    for file in FILES:
        floor_of(module_parts(file))


def test_modules_do_not_import_each_other_in_a_ring() -> None:
    edges: dict[str, set[str]] = {}
    for file in FILES:
        parts = module_parts(file)
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        tree = ast.parse(file.read_text(encoding="utf-8"))
        edges[name] = {".".join(target) for target in imports(tree)} - {name}
    seen: dict[str, int] = {}

    def visit(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, f"ring of imports: {' -> '.join([*way, name])}"
        if seen.get(name):
            return
        for target in edges.get(name, ()):
            if target in edges:
                visit(target, (*way, name))
        seen[name] = 1

    for name in edges:
        visit(name, ())


def public(tree: ast.Module) -> list[ast.FunctionDef | ast.ClassDef]:
    """Return public functions and classes of a module, and the public methods of its public classes."""
    found: list[ast.FunctionDef | ast.ClassDef] = []
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
            continue
        found.append(node)
        if isinstance(node, ast.ClassDef):
            found.extend(item for item in node.body if isinstance(item, ast.FunctionDef) and item.name[0] != "_")
    return found


def parameters(function: ast.FunctionDef) -> list[str]:
    given = function.args
    names = [argument.arg for argument in (*given.posonlyargs, *given.args)]
    names += [given.vararg.arg] if given.vararg else []
    names += [argument.arg for argument in given.kwonlyargs]
    return [name for name in names if name not in {"self", "cls"}]


def named_parameters(docstring: str) -> list[list[str]] | None:
    """Return the names under the heading Parameters, line by line; None without that heading."""
    match = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-{3,}$|\Z)", docstring, re.MULTILINE | re.DOTALL)
    if match is None:
        return None
    lines = re.findall(r"^(\*{0,2}\w[\w, *]*?)(?: :.*)?$", match.group(1), re.MULTILINE)
    return [[name.strip().lstrip("*") for name in line.split(",")] for line in lines]


def fault_of_parameters(function: ast.FunctionDef, docstring: str) -> str | None:
    """Return what is wrong with the parameters a docstring names: one not there, one left out, or the order.

    Parameters of a kind may stand on one line.
    """
    named, given = named_parameters(docstring), parameters(function)
    if named is None:
        return None
    names = [name for line in named for name in line]
    if strange := set(names) - set(given):
        return f"no such parameter: {strange}"
    if left := set(given) - set(names):
        return f"not named: {left}"
    firsts = [min(given.index(name) for name in line) for line in named]
    return None if firsts == sorted(firsts) else f"order: {names}, not {given}"


@pytest.mark.parametrize("file", FILES, ids=lambda file: "/".join(module_parts(file)))
def test_docstrings(file: Path) -> None:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree), f"{file.name} has no docstring"
    for node in public(tree):
        docstring = ast.get_docstring(node)
        assert docstring, f"{file.name}: {node.name} has no docstring"
        assert docstring.splitlines()[0].rstrip().endswith((".", "]", ":")), f"{file.name}: {node.name}: summary line"
        if isinstance(node, ast.FunctionDef):
            fault = fault_of_parameters(node, docstring)
            assert fault is None, f"{file.name}: {node.name}: {fault}"


def test_public_names_can_be_imported() -> None:
    for name in getattr(fieldgeo, "__all__", ()):
        assert hasattr(fieldgeo, name), name


def test_every_module_can_be_imported() -> None:
    for found in pkgutil.walk_packages([str(PACKAGE)], prefix="fieldgeo."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)


def test_faults_of_parameters_are_seen() -> None:
    head = "Return.\n\nParameters\n----------\n"
    text = head + "one, two : float\n    Both.\nthree : str, optional\n    Text: x : y.\n\nReturns\n-------\nint\n"
    assert named_parameters(text) == [["one", "two"], ["three"]]
    assert named_parameters("Return.") is None
    for code, fault in (
        ("def f(one, two, three): pass", None),
        ("def f(one, three, two): pass", None),
        ("def f(three, one, two): pass", "order"),
        ("def f(one, two, three, four): pass", "not named"),
        ("def f(one, two): pass", "no such"),
    ):
        function = ast.parse(code).body[0]
        assert isinstance(function, ast.FunctionDef)
        found = fault_of_parameters(function, text)
        assert (found or "").startswith(fault or "")
        assert (found is None) == (fault is None)


@pytest.mark.parametrize("file", FILES, ids=lambda file: "/".join(module_parts(file)))
def test_only_the_command_line_prints(file: Path) -> None:
    if module_parts(file)[0].startswith(("cli", "__main__")):
        return
    tree = ast.parse(file.read_text(encoding="utf-8"))
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    assert not [call for call in calls if isinstance(call.func, ast.Name) and call.func.id == "print"]


def test_files_are_of_a_size_to_read() -> None:
    lengths = {file.name: len(file.read_text(encoding="utf-8").splitlines()) for file in FILES}
    assert max(lengths.values()) <= 600, {name: length for name, length in lengths.items() if length > 600}

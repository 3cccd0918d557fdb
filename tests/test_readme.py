"""README.md is kept true: its Python runs as a doctest, and its commands print what it says they print.

After a change of printed figures that is meant, ``python tests/test_readme.py`` writes all output anew.
"""

import doctest
import re
import shlex
from contextlib import chdir, redirect_stdout
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner

from fieldgeo.cli import main

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
# "console" shows the answer; "console notes" shows what goes to standard error too; "console slow" takes longer than a
# fast test may.
CONSOLE = re.compile(r"^```console(?P<notes> notes)?(?P<slow> slow)?\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
PYTHON = re.compile(r"^```python\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)


def read_me() -> str:
    return README.read_text(encoding="utf-8")


def commands(body: str) -> list[str]:
    """Return the commands of a console block, as written: a line that ends in a backslash goes on in the next."""
    return re.findall(r"^\$ ((?:[^\n]*\\\n)*[^\n]*)$", body, re.MULTILINE)


def printed(command: str, *, notes: bool) -> str:
    words = shlex.split(command.replace("\\\n", " "))
    assert words[0] == "fieldgeo", command
    result = CliRunner().invoke(main, words[1:], prog_name="fieldgeo")
    assert result.exit_code == 0, result.stderr
    return result.stdout + result.stderr if notes else result.stdout


def refreshed(text: str, *, slow: tuple[bool, ...]) -> str:
    """Return a text with the output in its console blocks as the commands print it now: slow ones, others, or all."""

    def block(match: re.Match[str]) -> str:
        if (match["slow"] is not None) not in slow:
            return match.group()
        notes = match["notes"] is not None
        shown = "".join(f"$ {command}\n{printed(command, notes=notes)}" for command in commands(match["body"]))
        return f"```console{match['notes'] or ''}{match['slow'] or ''}\n{shown}```"

    return CONSOLE.sub(block, text)


def run_again(text: str) -> str:
    """Return a text with the output in its Python blocks as it comes now."""
    names: dict[str, object] = {}

    def block(match: re.Match[str]) -> str:
        shown = ""
        for example in doctest.DocTestParser().get_examples(match["body"]):
            shown += ">>> " + example.source.rstrip("\n").replace("\n", "\n... ") + "\n"
            with redirect_stdout(StringIO()) as said:
                exec(compile(example.source, "README.md", "single"), names)
            shown += said.getvalue()
        return f"```python\n{shown}```"

    return PYTHON.sub(block, text)


def link_samples(folder: Path) -> None:
    (folder / "sample_fields").symlink_to(ROOT / "sample_fields", target_is_directory=True)


@pytest.fixture
def beside_samples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand in a folder that has the sample fields and nothing else, so that files written do no harm."""
    link_samples(tmp_path)
    monkeypatch.chdir(tmp_path)


@pytest.mark.usefixtures("beside_samples")
def test_commands_print_what_the_readme_says() -> None:
    text = read_me()
    blocks = list(CONSOLE.finditer(text))
    assert all(commands(block["body"]) for block in blocks)
    verbs = {command.split()[1] for block in blocks for command in commands(block["body"])}
    assert verbs == set(main.commands)
    anew = refreshed(text, slow=(False,)).splitlines()
    assert anew == text.splitlines(), "if the change is meant, run: python tests/test_readme.py"


@pytest.mark.slow
@pytest.mark.usefixtures("beside_samples")
def test_slow_commands_print_what_the_readme_says() -> None:
    text = read_me()
    assert refreshed(text, slow=(True,)).splitlines() == text.splitlines()


@pytest.mark.usefixtures("beside_samples")
def test_python_of_the_readme_runs() -> None:
    names: dict[str, object] = {}
    runner = doctest.DocTestRunner(verbose=False)
    text = read_me()
    for match in PYTHON.finditer(text):
        line = text.count("\n", 0, match.start("body"))
        test = doctest.DocTestParser().get_doctest(match["body"], names, "README.md", str(README), line)
        runner.run(test, clear_globs=False)
        names = test.globs
    assert runner.tries > 5
    assert runner.failures == 0


def test_scripts_and_links_of_the_readme_are_there() -> None:
    text = read_me()
    linked = set(re.findall(r"\]\((?!https?:)([^)#]+)", text)) | set(re.findall(r"\b(scripts/[\w.-]+)", text))
    assert {"scripts/try-it", "scripts/test"} <= linked
    assert not [name for name in linked if not (ROOT / name).exists()]


if __name__ == "__main__":
    with TemporaryDirectory() as folder, chdir(folder):
        link_samples(Path(folder))
        README.write_text(refreshed(run_again(read_me()), slow=(False, True)), encoding="utf-8")

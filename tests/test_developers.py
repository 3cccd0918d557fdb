"""DEVELOPERS.md is kept true: its picture of the house, the files it names, and its words."""

import re
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "fieldgeo"
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
UNITS = {"", "-", "m", "m2", "deg", "rad", "s", "m2/s", "N", "W"}


def section(name: str) -> str:
    match = re.search(rf"^## {name}\n(.*?)(?=^## |\Z)", TEXT, re.MULTILINE | re.DOTALL)
    assert match is not None, name
    return match.group(1)


def drawn_house() -> list[str]:
    """Return the files of the picture, as paths below the package."""
    picture = re.search(r"```text\nfieldgeo/\n(.*?)```", section("The house"), re.DOTALL)
    assert picture is not None
    files: list[str] = []
    folders: list[str] = []
    for indent, name, about in re.findall(r"^( +)(\S+) +(\S.*)$", picture.group(1), re.MULTILINE):
        assert about, name
        folders = folders[: len(indent) // 2 - 1]
        if name.endswith("/"):
            folders.append(name)
        else:
            files.append("".join(folders) + name)
    return files


def words() -> list[list[str]]:
    rows = re.findall(r"^\|(.*)\|$", section("Words"), re.MULTILINE)
    return [[cell.strip() for cell in row.split("|")] for row in rows][2:]


def test_the_picture_shows_the_house_as_it_is() -> None:
    files = [path for path in PACKAGE.rglob("*") if path.suffix in {".py", ".csv"} and path.name != "__init__.py"]
    assert sorted(drawn_house()) == sorted(path.relative_to(PACKAGE).as_posix() for path in files)


def test_every_file_named_is_there() -> None:
    named = set(re.findall(r"`((?:[\w.-]+/)*[\w-]+\.(?:py|csv|md|toml))`", TEXT))
    assert len(named) > 20
    assert not [name for name in named if not any((place / name).exists() for place in (PACKAGE, ROOT))]


def test_links_lead_to_headings() -> None:
    headings = re.findall(r"^## (.*)$", TEXT, re.MULTILINE)
    anchors = {re.sub(r"[^\w\- ]", "", heading).lower().replace(" ", "-") for heading in headings}
    linked = set(re.findall(r"\]\(#([^)]+)\)", TEXT))
    assert linked == anchors


def test_every_word_stands_once_with_its_meaning_and_a_known_unit() -> None:
    rows = words()
    assert len(rows) > 50
    assert all(len(row) == 4 and row[0] and row[1] for row in rows)
    assert [term for term, count in Counter(row[0] for row in rows).items() if count > 1] == []
    assert {row[2] for row in rows} <= UNITS


@pytest.mark.parametrize("name", sorted({name for row in words() for name in re.findall(r"`([^`]+)`", row[0])}))
def test_words_in_the_form_of_code_are_in_the_code(name: str) -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py")))
    assert re.search(rf"\b{re.escape(name)}\b", source)


def test_lines_are_of_a_length_to_read() -> None:
    assert max(map(len, TEXT.splitlines())) <= 120

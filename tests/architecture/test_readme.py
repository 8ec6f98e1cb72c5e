"""README and DEVELOPERS say what is so."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def blocks(file: str, language: str) -> list[str]:
    """Return the fenced blocks of a language in a Markdown file."""
    text = (ROOT / file).read_text(encoding="utf-8")
    return re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)


def test_the_readme_opens_with_the_job_in_one_paragraph():
    title, empty, paragraph, after = (ROOT / "README.md").read_text("utf-8").split("\n")[:4]

    assert title == "# linewatch"
    assert empty == after == ""
    assert len(paragraph) > 300


def test_the_first_two_commands_are_the_demo_and_the_tests():
    demo, tests = blocks("README.md", "sh")[:2]

    assert demo.strip().endswith("linewatch demo")
    assert tests.strip().endswith("pytest")


def test_the_readmes_test_command_is_what_ci_runs():
    tests = blocks("README.md", "sh")[1].strip()

    assert f"\n{tests}\n" in (ROOT / ".ci" / "run").read_text("utf-8")


@pytest.mark.parametrize("file", ["README.md", "DEVELOPERS.md"])
def test_every_toml_block_in_the_documents_can_be_read(file: str):
    for block in blocks(file, "toml"):
        tomllib.loads(block)


def test_the_top_level_holds_only_what_it_should():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "linewatch",
        "tests",
        "simulators",
        "config",
    }
    made = {"build", "dist", "snapshot_report.html"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}

    assert found - made == allowed


def questions() -> dict[str, str]:
    """Return the answers of the table of questions, by question."""
    text = (ROOT / "README.md").read_text("utf-8")
    table = text.partition("## Questions people ask of a line")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")][2:]
    cells = [[cell.strip() for cell in row.strip("|").split(" | ")] for row in rows]
    assert all(len(each) == 2 for each in cells)
    return dict(cells)


def test_every_question_has_its_own_answer():
    found = questions()

    assert len(found) == 35
    assert all(asked.endswith("?") for asked in found)


def test_every_alarm_that_an_answer_names_is_one_that_the_program_says():
    said = "\n".join(path.read_text("utf-8") for path in (ROOT / "linewatch").rglob("*.py"))
    made = re.compile(r"(high|low|frozen|deviation|unreadable)$")
    quoted = {
        each
        for answer in questions().values()
        for each in re.findall(r'"([a-zA-Z][^"]+)"', answer)
    }

    assert len(quoted) > 20
    for each in sorted(quoted):
        # What ends so is put together of a quantity's name and its condition.
        assert each in said or made.search(each), each


def test_every_key_that_an_answer_names_is_one():
    from linewatch.ui.keys import KEYS, key_name

    known = {key_name(key) for each in KEYS for key in each.key.split(",")}
    named = {
        each for answer in questions().values() for each in re.findall(r"`(\w|\W)`", answer)
    }

    assert named
    # '!' and '^' are marks on a trend.
    assert named - {"!", "^"} <= known


def test_every_command_that_an_answer_names_is_one():
    import importlib

    from linewatch.cli import app
    from linewatch.core.calc import CALCULATIONS

    for file in (ROOT / "linewatch" / "cli").glob("[a-z]*.py"):
        importlib.import_module(f"linewatch.cli.{file.stem}")

    named = {
        tuple(word for word in each.split() if not word.startswith("-"))
        for answer in questions().values()
        for each in re.findall(r"`linewatch ([a-z][a-z -]+[a-z])", answer)
    }

    assert len(named) > 8
    for first, *more in sorted(named):
        found = app[first]
        if first == "calc" and more:
            assert more[0] in CALCULATIONS, more
        elif more and more[0] in set(found):
            assert found[more[0]]
        else:
            assert not more, (first, more)

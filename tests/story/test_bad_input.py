"""Whatever is typed: a clear sentence, a non-zero exit, and no traceback."""

import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

Run = Callable[..., "subprocess.CompletedProcess[str]"]

GOOD = (Path(__file__).parents[2] / "config" / "example.toml").read_text("utf-8")


def refused(done, *words: str) -> None:
    """Assert that a command ended with a sentence that has all the words."""
    said = done.stdout + done.stderr
    assert done.returncode != 0, said
    assert "Traceback" not in said
    for word in words:
        assert word in said


def write(folder: Path, text: str) -> str:
    file = folder / "line.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


@pytest.mark.parametrize("command", ["check", "collect", "run"])
def test_a_file_that_is_not_there(linewatch: Run, tmp_path: Path, command: str):
    refused(linewatch(command, str(tmp_path / "none.toml")), "none.toml")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[line\n", ["line.toml"]),
        (
            GOOD + '\n[[tank]]\nid = "x1"\nname = "X"\nkind = "rinse"\ncolour = "red"\n',
            ["colour"],
        ),
        (GOOD.replace('rated_current = "', 'rated_current = "9 L '), ["rated_current"]),
        (GOOD + GOOD[GOOD.index("[[tank]]") :], ["have this id"]),
    ],
    ids=["broken", "unknown key", "wrong unit", "doubled id"],
)
def test_a_faulty_file_is_refused_with_its_fault(
    linewatch: Run, tmp_path: Path, text: str, words: list[str]
):
    refused(linewatch("check", write(tmp_path, text)), *words)


def test_an_unknown_command_and_an_unknown_option(linewatch: Run):
    refused(linewatch("levitate"), "levitate")
    refused(linewatch("demo", "--sped", "3"), "--sped")


@pytest.mark.parametrize("speed", ["0", "-1", "nan", "fast"])
def test_a_speed_that_cannot_be_meant(linewatch: Run, speed: str):
    refused(linewatch("demo", "--headless", "--speed", speed), "speed")


def test_a_trouble_that_does_not_exist(linewatch: Run):
    refused(
        linewatch("demo", "--headless", "--for", "10s", "--trouble", "gremlins@1s"), "gremlins"
    )


def test_viewing_a_line_that_nobody_recorded(linewatch: Run, tmp_path: Path):
    for command in ("view", "show", "stop"):
        refused(linewatch(command, "--store", str(tmp_path)), "no line's record")


def test_a_store_from_a_newer_program_is_left_alone(linewatch: Run, tmp_path: Path):
    file = write(tmp_path, GOOD)
    linewatch_id = "example"
    folder = tmp_path / "store" / f"line={linewatch_id}"
    folder.mkdir(parents=True)
    with closing(sqlite3.connect(folder / "journal.sqlite")) as database:
        database.execute("PRAGMA user_version = 99999")
    before = (folder / "journal.sqlite").read_bytes()

    refused(linewatch("collect", file, "--store", str(tmp_path / "store")), "newer")
    assert (folder / "journal.sqlite").read_bytes() == before


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        (
            "baths.toml",
            'about = """\nTwo\nlines"""\n[[recipe]]\nid = "x"\n',
            "library of baths",
        ),
        ("screen.toml", 'theme = "dark"\n[keys]\n', "settings of a screen"),
        ("notices.toml", '[[way]]\nid = "x"\n', "file of notices"),
        ("tags.csv", "name,address\nA,1\n", "a table, not a line"),
    ],
)
def test_a_file_that_is_another_of_ours_is_called_what_it_is(
    linewatch: Run, tmp_path: Path, name: str, text: str, words: str
):
    (tmp_path / name).write_text(text, encoding="utf-8")
    done = linewatch("check", str(tmp_path / name))
    refused(done, words)
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_rule_that_needs_no_signal_says_so(linewatch: Run):
    told = linewatch("rules").stdout
    assert "needs \n" not in told
    assert "mains dip or failure; needs no signal of its own" in told

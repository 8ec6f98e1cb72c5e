"""A person's own file for the screen."""

from pathlib import Path

import pytest

from linewatch.core.errors import ConfigurationFaulty
from linewatch.wiring import preferences


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(preferences, "folder", lambda: tmp_path)
    return tmp_path / preferences.FILE


def test_without_a_file_all_is_left_open(file: Path):
    assert preferences.preferences() == preferences.Preferences()


def test_what_the_file_wants_is_taken(file: Path):
    file.write_text('theme = "stark"\nunits = "us"\n[keys]\nalarms = "f2"\n', "utf-8")
    wanted = preferences.preferences()

    assert (wanted.theme, wanted.units, wanted.keys) == ("stark", "us", {"alarms": "f2"})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("theme = ", "Invalid value"),
        ('theme = "mauve"', "no theme 'mauve'; use night"),
        ('colour = "red"', "colour"),
        ('units = "leagues"', "units"),
        ('[keys]\nlevitate = "f3"', "no key is called levitate"),
    ],
)
def test_a_faulty_file_is_refused_by_name_and_key(file: Path, text: str, words: str):
    file.write_text(text, "utf-8")

    with pytest.raises(ConfigurationFaulty, match=words) as fault:
        preferences.preferences()
    assert preferences.FILE in str(fault.value)


def test_the_first_run_is_the_first_one_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(
        preferences.platformdirs, "user_state_dir", lambda *_, **__: str(tmp_path / "state")
    )

    assert preferences.is_first_run()
    assert not preferences.is_first_run()

"""Whatever is wrong with a file is told at once, with the key and what to write instead."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewatch.config import read, read_text
from linewatch.config.text import why_not
from linewatch.core.errors import ConfigurationFaulty
from tests.config.changes import append, delete, put

EXAMPLE = (Path(__file__).parents[2] / "config" / "example.toml").read_text(encoding="utf-8")


def test_two_faults_of_one_section_and_two_of_others_are_told_together(faults):
    found = faults(
        put("tank", 0, "voulme", "1 L"),
        put("tank", 0, "bath", "nickle"),
        put("device", 1, "tag", 1, "measures", "nickel-1.levle"),
        put("rectifier", 0, "rated_current", "1500 V"),
    )

    assert len(found) == 4
    for key in (
        "tank.nickel-1.voulme",
        "tank.nickel-1.bath",
        "device.controllers.tag.nickel-1.levle.measures",
        "rectifier.rectifier-1.rated_current",
    ):
        assert any(each.startswith(f"{key}: ") for each in found), key


def test_faults_of_every_section_are_told_together(faults):
    together = {
        put("device", 0, "tag", 0, "read", "adress", 4): "current.read.adress: unknown key",
        put("tank", 0, "window", "temperature", "low_low", 55): "low_low: 55 has no unit",
        append("link", {"id": "cabinet", "protocol": "modbus-tcp", "address": "a:1"}): (
            "link.cabinet: 2 of them"
        ),
        put("bath", 0, "recipe", "nickel-wats"): "bath.nickel.recipe: no recipe",
        delete("device", 1, "tag", 0, "read", "type"): "temperature.read.type: missing",
        put("tank", 0, "shortest_dwell", "1 h"): "tank.nickel-1.shortest_dwell: 3600 s",
        put("link", 0, "password", "secret"): "link.cabinet.password: unknown key",
        put("rectifier", 0, "area_tolerance", "120 %"): "area_tolerance: '120 %' is too large",
    }

    found = faults(*together)

    assert len(found) == len(together)
    for told in together.values():
        assert any(told in each for each in found), told


def test_a_faulty_tank_still_exists_for_those_who_name_it(faults):
    found = faults(delete("tank", 0, "kind"))

    assert [each.split(":")[0] for each in found] == ["tank.nickel-1.kind"]


def test_a_wrong_dimension_names_what_was_written_and_the_unit(faults):
    (found,) = faults(put("rectifier", 0, "rated_current", "1500 V"))

    assert found == (
        "rectifier.rectifier-1.rated_current: '1500 V' is no current; "
        "V is a voltage; write it in A"
    )


def test_the_message_names_the_file_with_every_fault(changed):
    with pytest.raises(ConfigurationFaulty) as faulty:
        read_text(changed(put("tank", 0, "voulme", "1 L"), delete("line")), "line.toml")

    lines = str(faulty.value).splitlines()
    assert len(lines) == 2
    assert all(line.startswith("line.toml: ") for line in lines)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "line: missing"),
        ("[line]\nid = 'a'\nname = \n", "line 3, column 8: invalid value"),
        ("[line]\nid = 'a'\nid = 'b'\n", "line 3, column 9: cannot overwrite a value"),
        ("x = " + "[" * 5000, "nested too deep"),
        ("line = 3", "line: 3 is no table"),
        ("tank = [1, 2]\n[line]\nid='a'\nname='A'", "tank.1: 1 is no table; write [[tank]]"),
    ],
    ids=["empty", "no value", "twice", "deep", "no table", "no tables"],
)
def test_what_is_no_configuration_is_told_with_its_line(text, told):
    with pytest.raises(ConfigurationFaulty) as faulty:
        read_text(text, "line.toml")

    assert any(each.startswith(told) for each in faulty.value.faults), faulty.value.faults


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\x7fELF\x00\x01", "it is no text file; name a configuration file"),
        (
            "[line]\nname = 'Gr\u00fcn'".encode("utf-16"),
            "it is written in UTF-16; save it as UTF-8",
        ),
        (
            "[line]\nname = 'Gr\u00fcn'".encode("latin-1"),
            "line 2: byte 0xFC is no UTF-8; save the file as UTF-8",
        ),
        (b"#" * (16 * 1024 * 1024 + 1), "larger than 16 MiB; name a configuration file"),
    ],
    ids=["binary", "utf-16", "latin-1", "huge"],
)
def test_a_file_that_cannot_be_read_as_text_is_told(tmp_path, content, told):
    file = tmp_path / "line.toml"
    file.write_bytes(content)

    with pytest.raises(ConfigurationFaulty) as faulty:
        read(file)

    assert faulty.value.faults == (told,)
    assert str(faulty.value) == f"{file}: {told}"


def test_a_missing_file_is_told_with_the_files_that_are_there(tmp_path):
    (tmp_path / "rack.toml").write_text("")

    with pytest.raises(
        ConfigurationFaulty, match=r"no such file; in that folder are rack\.toml"
    ):
        read(tmp_path / "rakc.toml")


def test_a_folder_is_told(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="it is a folder; name a file in it"):
        read(tmp_path)


def test_a_name_that_no_file_can_have_is_told(tmp_path):
    with pytest.raises(ConfigurationFaulty, match="it cannot be read"):
        read(tmp_path / "a\x00b")


def test_a_byte_order_mark_is_no_fault(tmp_path):
    file = tmp_path / "line.toml"
    file.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.encode())

    assert read(file).text.startswith(EXAMPLE.rstrip())


LINES = EXAMPLE.splitlines()
ODD = [
    "1", "-1", "1e400", "nan", "true", "'x'", "[]", "[[]]", "{}", "''", "1979-05-27",
    "[1, 'a', {b = 2}]", "{a = {b = 1}}", "10" * 400, "'nan degC'", "'inf A'", "'1e308 kA.h'",
]  # fmt: skip
ACTS = ("drop", "double", "swap", "cut", "splice", "value")


def damaged(line: str, act: str, other: str, text: str) -> list[str]:
    """Return what becomes of a line."""
    odd = ODD[len(text) % len(ODD)]
    return {
        "drop": [],
        "double": [line, line],
        "swap": [other],
        "cut": [line[: len(text)]],
        "splice": [line + text],
        "value": [f"{line.split('=', maxsplit=1)[0]}= {odd}"],
    }[act]


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(LINES) - 1),
            st.sampled_from(ACTS),
            st.sampled_from(LINES),
            st.text(max_size=40),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_no_damage_to_a_file_ever_gives_anything_but_works_or_faults(damages):
    lines = list(LINES)
    for place, act, other, text in damages:
        at = place % max(1, len(lines))
        lines[at : at + 1] = damaged(lines[at], act, other, text) if lines else [other]

    told: tuple[str, ...] = ("",)
    works = None
    try:
        works = read_text("\n".join(lines), "line.toml")
    except ConfigurationFaulty as faulty:
        told = faulty.faults

    assert (works is None) == all(told)
    assert all("\n" not in fault for fault in told)


def test_a_file_that_may_not_be_read_is_told():
    refusal = PermissionError(13, "Permission denied")

    assert why_not(Path("line.toml"), refusal).startswith("it may not be read by you; ask")

"""Every option of every command, given what cannot be meant: one sentence and a non-zero exit.

An option that is new must be placed in one of the tables: the first test fails until it is.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from cyclopts import App

from linewatch import cli
from tests.story.recorded import record_the_short_line

EXAMPLE = Path(__file__).parents[2] / "config" / "example.toml"

# What a command needs beside the option that is tried; STORE, OUT and EXAMPLE are filled in.
NEEDS: dict[str, tuple[str, ...]] = {
    "backup": ("OUT/backup",),
    "check": (),
    "collect": ("EXAMPLE",),
    "demo": ("--headless", "--for", "1s"),
    "duty done": ("analyse nickel",),
    "explain": ("nickel-1",),
    "export": ("OUT/x.csv",),
    "import-analyses": (),
    "import-tags": (),
    "lab add": ("nickel-1", "Ni", "70", "g/L"),
    "lab estimate": ("nickel",),
    "lab show": ("nickel", "Ni"),
    "load bake": ("1001",),
    "load card": ("1001",),
    "load decide": ("1001", "held", "--why", "trial"),
    "load found": ("1001", "adhesion", "good"),
    "load place": ("1001", "nickel-1"),
    "load show": ("1001",),
    "notices try": ("someone",),
    "probe": ("127.0.0.1:9",),
    "restore": ("OUT", "--line", "nope", "--why", "trial"),
    "rinse": ("rinse-1",),
    "run": ("EXAMPLE",),
    "sheet found": ("nickel-1", "bags"),
}

NUMBER = ("nan", "1,234", "7 bananas")
WHOLE = ("x", "2.5")
TIME = ("noonish", "25:99", "9999-12-31")
READ = ("OUT/none.toml", "OUT", "OUT/binary.toml")
# By the option's or argument's name, where commands mean the same by it.
HOSTILE: dict[str, tuple[str, ...]] = {
    "--amount": NUMBER,
    "--area": ("x", "12", "12 kg", "1,234 dm2"),
    "--baud": (*WHOLE, "0", "-1"),
    "--config": READ,
    "--corrects": (*WHOLE, "-1"),
    "--count": (*WHOLE, "0", "-1"),
    "--file": READ,
    "--first": (*WHOLE, "-1", "999999999"),
    "--for": ("x", "0s", "-1s", "nan", "3", "1,000 s"),
    "--from": TIME,
    "--line": ("nope",),
    "--notices": READ,
    "--parity": ("Q", "", "even"),
    "--protocol": ("smoke",),
    "--seed": WHOLE,
    "--speed": (*NUMBER, "0", "-1", "1e9"),
    "--store": ("OUT/none", "OUT/plain-file"),
    "--table": ("coffee",),
    "--tank": ("nope", "Nickel 1"),
    "--timeout": ("x", "0 s", "-1 s", "3", "5 kg", "1e9 s"),
    "--trip": (*WHOLE, "0", "-1", "987654321"),
    "--trouble": ("gremlins@1s", "heater-fails@never"),
    "--unit": (*WHOLE, "-1", "999"),
    "--units": ("furlongs",),
    "--what": ("gossip",),
    # Without any it is who is logged in.
    "--who": (),
    "--width": (*WHOLE, "0", "-1", "999999999999"),
    "--zone": ("Mars", "../../etc/passwd", "/etc/passwd", "Europe"),
}
# Where a command means something else by the name.
OTHERWISE: dict[str, tuple[str, ...]] = {
    "export --to": TIME,
    "replay --to": TIME,
    "verify --to": TIME,
    "alarm-health --to": TIME,
    "load show --to": ("OUT/x.docx", "OUT/none/x.pdf", "OUT"),
    "lab show --to": ("OUT/x.docx", "OUT/none/x.pdf", "OUT"),
    "sheet --to": ("OUT/x.docx", "OUT/none/x.pdf", "OUT"),
    "rinse --to": ("OUT/x.docx", "OUT/none/x.pdf", "OUT"),
    "discharge day --to": ("OUT/x.docx",),
    "lab add --sampled": TIME,
    "collect --store": ("OUT/plain-file",),
    "run --store": ("OUT/plain-file",),
    "demo --store": ("OUT/plain-file",),
    "demo --line": ("nope", "", "../.."),
    "check FILE": READ,
    "collect FILE": READ,
    "run FILE": READ,
    "import-tags FILE": READ,
    "import-analyses FILE": READ,
    "export FILE": ("OUT/x", "OUT/x.docx", "OUT/none/x.csv", "OUT/plain-file/x.csv", "OUT"),
    "backup FOLDER": ("OUT/plain-file",),
    "restore FOLDER": ("OUT/none", "OUT/plain-file", "OUT"),
    "calc CALCULATION": ("sorcery",),
    "calc INPUTS": ("x", "=", "charge=", "charge=1,234 A.h", "metal=cheese"),
    "explain TANK": ("nope", "", "load", "load nope"),
    "explain FIGURE": ("luck",),
    "export TAGS": ("nope", "nickel-1.luck", ""),
    "lab add SUBJECT": ("nope", ""),
    "lab add VALUE": NUMBER,
    "lab add UNIT": ("bananas",),
    "lab estimate BATH": ("nope", "nickel-1"),
    "lab show SUBJECT": ("nope",),
    "lab show SUBSTANCE": ("unobtainium",),
    "load show NUMBER": ("nope", ""),
    "load place TANK": ("nope",),
    "load bake OVEN": ("nope",),
    "load decide DECISION": ("pondered",),
    "load found RESULT": (),
    "notices try WAY": ("nobody",),
    "probe ADDRESS": (
        "",
        "host",
        "127.0.0.1:x",
        "127.0.0.1:99999",
        "opc.tcp://",
        "/dev/nobody",
    ),
    "rinse TANK": ("nope", "nickel-1"),
    "rules NAME": ("nope",),
    "sheet SHIFT": TIME,
    "sheet found SUBJECT": ("nope",),
    "sheet found ITEM": ("nope", ""),
    "discharge day WHEN": ("someday", "2026-02-30", "0001-01-01", "9999-12-31"),
    "duty done NAME": ("nope",),
    "notices list --line": (),
    "notices list --store": (),
}
# Text that is recorded as it was typed, or refused by the collector, which does not run here.
FREE = frozenset(
    {
        *("--note", "--why", "--method", "--sample", "--part", "--lot", "--reference"),
        *("--place", "--rework-of", "--link", "--device"),
        *("NUMBER", "SUBSTANCE", "ITEM", "WHAT", "RESULT"),
    }
)


def commands(app: App = cli.app, before: str = "") -> Iterator[tuple[str, App]]:
    """Yield every command with its name: 'load card'."""
    for name in app:
        if name.startswith("-"):
            continue
        called = f"{before} {name}".strip()
        below = app[name]
        if below.default_command is not None:
            yield called, below
        yield from commands(below, called)


def options() -> Iterator[tuple[str, str, bool]]:
    """Yield (command, option or ARGUMENT, whether it comes by position)."""
    from linewatch.cli import (  # noqa: F401 - they register themselves
        check,
        commission,
        laboratory,
        loads,
        notices,
        record,
        rinses,
        rules,
        run,
        sheets,
    )

    for name, app in commands():
        for each in app.assemble_argument_collection():
            if each.hint is bool:
                continue
            is_positional = each.field_info.kind is not each.field_info.KEYWORD_ONLY
            yield (
                name,
                each.name.lstrip("-").upper() if is_positional else each.name,
                is_positional,
            )


def hostile(command: str, option: str) -> tuple[str, ...] | None:
    if (both := f"{command} {option}") in OTHERWISE:
        return OTHERWISE[both]
    if option in HOSTILE:
        return HOSTILE[option]
    return () if option in FREE else None


TRIED = [
    (command, option, value)
    for command, option, _ in options()
    for value in hostile(command, option) or ()
]
MAKES = frozenset({"collect", "demo", "run"})
"""Commands that would make a record, not read one."""


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record a minute of the short line."""
    return record_the_short_line(tmp_path_factory.mktemp("record"), "1min")


def test_every_option_is_in_a_table():
    placed = [(command, option) for command, option, _ in options()]
    assert len(placed) > 100
    assert not [each for each in placed if hostile(*each) is None]


@pytest.mark.parametrize("tried", TRIED, ids=" ".join)
def test_what_cannot_be_meant_is_refused_in_a_sentence(
    store, tmp_path, monkeypatch, capsys, tried
):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    (tmp_path / "plain-file").write_text("x", encoding="utf-8")
    (tmp_path / "binary.toml").write_bytes(b"\x89PNG\x00\xff")
    words = [
        each.replace("OUT", str(tmp_path)).replace("EXAMPLE", str(EXAMPLE))
        for each in typed(*tried, store)
    ]
    monkeypatch.setattr(sys, "argv", ["linewatch", *words])

    with pytest.raises(SystemExit) as ended:
        cli.main()

    said = capsys.readouterr()
    assert ended.value.code not in {0, None}, said
    assert said.err.startswith("linewatch: "), said
    for foreign in ("Traceback", "[Errno", "Error(", "<class", "unable to convert", "None"):
        assert foreign not in said.err


def typed(command: str, option: str, value: str, store: Path) -> list[str]:
    """Return what somebody types who gives a hostile value and nothing else that is wrong."""
    own = [(name, each) for name, each, _ in options() if name == command]
    places = [each for name, each, by_place in options() if by_place and name == command]
    given = list(NEEDS.get(command, ()))
    if option in places:
        given[places.index(option) : places.index(option) + 1] = [value]
    else:
        given.append(f"{option}={value}")
    if (command, "--store") in own and option != "--store" and command not in MAKES:
        given += ["--store", str(store)]
    return [*command.split(), *given]

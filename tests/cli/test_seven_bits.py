"""What commands print ends in no traceback where the output's encoding lacks signs."""

from __future__ import annotations

import io
import os
import subprocess
import sys

import pytest

from linewatch.cli.seven_bits import carry_every_sign

ASCII = (
    {"PYTHONIOENCODING": "ascii"},
    {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
)


def printed(text: str, encoding: str) -> str:
    under = io.BytesIO()
    stream = io.TextIOWrapper(under, encoding=encoding)
    carry_every_sign(stream)
    stream.write(text)
    stream.flush()
    return under.getvalue().decode(encoding)


@pytest.mark.parametrize("environment", ASCII)
@pytest.mark.parametrize(
    "command",
    [
        ["calc", "mass", "--help"],
        ["calc", "thickness", "--metal", "Ni", "--charge", "10 A.h", "--area", "2 dm2"],
        ["rules"],
        ["keys"],
        ["show", "--store", "nowhere"],
    ],
)
def test_no_command_ends_in_a_traceback_where_the_output_is_ascii(
    environment, command, tmp_path
):
    done = subprocess.run(
        [sys.executable, "-m", "linewatch", *command],
        capture_output=True,
        check=False,
        cwd=tmp_path,
        timeout=120,
        env={**os.environ, **environment, "PYTHONPATH": os.pathsep.join(sys.path)},
    )

    told = done.stdout + done.stderr
    assert told
    assert told.isascii()
    assert b"Traceback" not in told


def test_what_has_a_sign_of_seven_bits_is_shown_by_it_and_columns_stay():
    assert printed("5.0 ± 0.1 µm ▲", "ascii") == "5.0 +-0.1 um ^"
    assert printed("collector starts…", "ascii") == "collector starts."


def test_what_the_encoding_holds_stays_as_it_is():
    assert printed("5.0 ± 0.1 µm ▲", "latin-1") == "5.0 ± 0.1 µm ^"
    assert printed("5.0 ± 0.1 µm ▲", "utf-8") == "5.0 ± 0.1 µm ▲"

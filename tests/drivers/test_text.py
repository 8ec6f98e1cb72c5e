"""Text from devices: what of it may be shown."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.drivers.text import LONGEST, cleaned, text_of


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        (bytes.fromhex("41 42 00 1B 5B 32 4A 00"), "AB"),
        (bytes.fromhex("B0 43"), "\u00b0C"),
        ("\u00b0C".encode(), "\u00b0C"),
        (b"  R2 anode side  ", "R2 anode side"),
        (b"\0\0\0", ""),
        (b"A\x1b[2J\x1b]0;t\x07B\x08", "A\ufffd[2J\ufffd]0;t\ufffdB\ufffd"),
        (b"\x1b]52;c;QUJD\x07", "\ufffd]52;c;QUJD\ufffd"),
        (b"\x9b2J", "\ufffd2J"),
        ("\u202e12.5".encode(), "\ufffd12.5"),
        (b"line\r\nbreak\ttab", "line\ufffd\ufffdbreak\ufffdtab"),
        ("a\u2028b\ufeffc".encode(), "a\ufffdb\ufffdc"),
    ],
)
def test_text_is_cut_decoded_and_disarmed(raw, shown):
    assert text_of(raw) == shown


def test_markup_stays_what_it_is():
    # It is the screen's affair never to read it as markup.
    assert cleaned("[red]ALARM[/red]") == "[red]ALARM[/red]"


@given(st.binary(max_size=300))
def test_nothing_that_steers_a_terminal_is_left(raw):
    shown = text_of(raw)
    assert len(shown) <= LONGEST
    assert not any(unicodedata.category(each)[0] == "C" for each in shown)
    assert text_of(shown.encode()) == shown

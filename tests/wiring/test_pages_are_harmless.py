"""What the command line prints of devices, files and people steers no terminal."""

import pytest

from linewatch.cli import line_words, paper, tables
from linewatch.core.pages import Page, Table
from tests.ui import invented

HOSTILE = ["\x1b[2J", "\x1b]52;c;QUJD\x07", "\x9b2J", "\u202eevil", "a\rb", "x" * 10_000]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_page_for_a_terminal_holds_nothing_that_steers_it(text):
    page = Page(
        title=text,
        below=(text,),
        tables=(
            Table(heading=text, columns=("a", text), rows=((text, text),)),
            Table(heading=text, empty=text),
        ),
        small=(text,),
    )

    assert paper.as_text(page).replace("\n", "").isprintable()


@pytest.mark.parametrize("text", [*HOSTILE, "a\n2026-01-01 00:00:00 works: all is well"])
def test_an_event_is_one_harmless_line(text):
    said = tables.event_words(invented.event(1, text, subject=text), {})

    assert said.isprintable()
    assert "\n" not in said


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_line_in_words_is_harmless(text):
    from dataclasses import replace

    picture = invented.troubled()
    links = tuple(replace(each, reason=text) for each in picture.links)
    said = line_words.line_table(replace(picture, name=text, links=links), alive=True)

    assert said.replace("\n", "").isprintable()

"""A page as text, as HTML and as PDF: headings, rows and tables, whatever they tell."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from linewatch.cli.tables import MOST
from linewatch.core.errors import LinewatchError, file_words
from linewatch.ui.text import clean

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from linewatch.core.pages import Page, Table

STYLE = """
@page { size: A4; margin: 12mm; }
body { font: 10pt/1.35 sans-serif; color: #000; background: #fff; margin: 1rem auto;
  max-width: 62rem; }
h1 { font-size: 15pt; margin: 0; } h2 { font-size: 11pt; margin: .9rem 0 .2rem; }
p { margin: .1rem 0; } p.small { font-size: 8pt; }
table { border-collapse: collapse; width: 100%; } th { text-align: left; }
td, th { border-bottom: 1px solid #999; padding: 1px 5px; vertical-align: top;
  font-size: 8.5pt; }
td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
"""


def as_text(page: Page) -> str:
    """Return a page for a terminal, which nothing in it can steer."""
    rows = [page.title, *page.below]
    for table in page.shown():
        rows += ["", table.heading]
        rows += _text_rows(table) if table.rows else [f"  {table.empty}"]
    return "\n".join(clean(each, MOST) for each in [*rows, "", *page.small])


def _text_rows(table: Table) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*table.every, strict=True)]
    return [
        "  "
        + "  ".join(
            cell.rjust(widths[k]) if k in table.numbers else cell.ljust(widths[k])
            for k, cell in enumerate(row)
        ).rstrip()
        for row in table.every
    ]


def as_html(page: Page) -> str:
    """Return a page for a browser and its printer; whatever devices said is shown as text."""
    tell = html.escape
    body = [f"<h1>{tell(page.title)}</h1>", *(f"<p>{tell(each)}</p>" for each in page.below)]
    for table in page.shown():
        body.append(f"<h2>{tell(table.heading)}</h2>")
        if not table.rows:
            body.append(f"<p>{tell(table.empty)}</p>")
            continue
        head = "".join(f"<th>{tell(each)}</th>" for each in table.columns)
        lines = (
            "".join(
                f'<td class="n">{tell(cell)}</td>'
                if k in table.numbers
                else f"<td>{tell(cell)}</td>"
                for k, cell in enumerate(row)
            )
            for row in table.rows
        )
        rows = "".join(f"<tr>{line}</tr>" for line in lines)
        body.append(
            f"<table><tr>{head}</tr>{rows}</table>" if head else f"<table>{rows}</table>"
        )
    body += [f'<p class="small">{tell(each)}</p>' for each in page.small]
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{tell(page.title)}</title><style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def as_pdf(page: Page, file: Path) -> None:
    """Write a page for the printer.

    The typefaces that every PDF reader has know Latin letters; what they lack stands as '?',
    and the HTML page has it.
    """
    from fpdf import FPDF
    from fpdf.fonts import FontFace

    def lines(text: str, height_mm: float) -> None:
        paper.multi_cell(0, height_mm, _latin(text), new_x="LMARGIN", new_y="NEXT")

    paper = FPDF(orientation="portrait", unit="mm", format="A4")
    paper.set_margin(12)
    paper.set_auto_page_break(auto=True, margin=12)
    paper.add_page()
    paper.set_title(_latin(page.title))
    paper.set_font("helvetica", "B", 14)
    lines(page.title, 7)
    paper.set_font("helvetica", "", 9)
    for each in page.below:
        lines(each, 4.5)
    for table in page.shown():
        paper.set_font("helvetica", "B", 10)
        paper.ln(2)
        lines(table.heading, 5.5)
        paper.set_font("helvetica", "", 7.5)
        if not table.rows:
            lines(table.empty, 4.5)
            continue
        with paper.table(
            col_widths=table.widths or None,
            borders_layout="HORIZONTAL_LINES",
            line_height=3.8,
            first_row_as_headings=bool(table.columns),
            headings_style=FontFace(emphasis="B"),
            text_align=tuple(
                "RIGHT" if k in table.numbers else "LEFT" for k in range(len(table.rows[0]))
            ),
        ) as drawn:
            for row in table.every:
                drawn.row([_latin(cell) for cell in row])
    paper.ln(2)
    paper.set_font("helvetica", "", 7)
    for each in page.small:
        lines(each, 3.4)
    paper.output(str(file))


def _latin(text: str) -> str:
    return text.encode("latin-1", "replace").decode("latin-1")


def give(page: Page, to: Sequence[Path]) -> int:
    """Print a page, or write it to files; return the exit code.

    Raises:
        PageUnwritable: a file cannot be written.
    """
    if not to:
        print(as_text(page))
    write(page, to)
    for file in to:
        print(f"{file}: written")
    return 0


def write(page: Page, files: Sequence[Path]) -> None:
    """Write a page to files, each by its ending.

    Raises:
        PageUnwritable: an ending is neither .html nor .pdf, or the disk does not take it.
    """
    for file in files:
        try:
            if file.suffix.lower() == ".pdf":
                as_pdf(page, file)
            elif file.suffix.lower() in {".html", ".htm"}:
                file.write_text(as_html(page), encoding="utf-8", newline="\n")
            else:
                raise PageUnwritable(file, "its ending is neither .html nor .pdf")
        except OSError as error:
            raise PageUnwritable(file, file_words(error)) from error


class PageUnwritable(LinewatchError):
    """A page could not be written."""

    def __init__(self, file: Path, happened: str) -> None:
        self.file, self.happened = file, happened
        super().__init__(f"write {file}: {happened}; name another file")

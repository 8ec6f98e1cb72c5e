"""The line view: the first that anyone sees."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from linewatch.ui.draw.line import head_row, line_rows
from linewatch.ui.draw.ribbon import ribbon_rows
from linewatch.ui.keys import bindings
from linewatch.ui.screens.view import View

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import LinePicture
    from linewatch.ui.draw.rows import Look, Row


class LineView(View):
    """Every position in process order."""

    VIEW: ClassVar[str] = "line"
    BINDINGS = bindings("line")

    def head_rows(self, picture: LinePicture, look: Look) -> Sequence[Row]:
        """Return the ribbon and the heads of the columns."""
        return [*ribbon_rows(picture, look, self.body.choice), head_row(look)]

    def body_rows(self, picture: LinePicture, look: Look) -> Sequence[Row]:
        """Return the table of positions."""
        return line_rows(picture.tanks, look)

"""Forms and the finder: small windows over the view, for a few words or a choice."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from linewatch.ui.draw.rows import Row, Span, row
from linewatch.ui.entries import NotUnderstood
from linewatch.ui.text import cells, clean, cut, fit
from linewatch.ui.widgets.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual import events
    from textual.app import ComposeResult

    from linewatch.ui.app import LinewatchApp


WINDOW: Final = """max-width: 100%; max-height: 100%; border: solid $foreground;
    background: $background; padding: 0 1;"""
FORM_CELLS: Final = 76
BESIDE: Final = 8
GROUND: Final = """max-width: 100%; height: auto; max-height: 100%;
    align: center middle; background: $background;"""
"""What lies under a window: no letter of the view is left standing beside its frame where the
terminal is hardly wider."""
ENTRY: Final = """border: none; height: 1; padding: 0 1; background: $panel;
    &:focus { background-tint: $foreground 0%; }
    & > .input--placeholder { color: $foreground; text-style: italic; }
    &:ansi > .input--cursor {
        background: ansi_default; color: ansi_default; text-style: reverse;
    }
    &:ansi > .input--selection {
        background: ansi_default; color: ansi_default; text-style: reverse;
    }"""


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form."""

    id: str
    label: str
    check: Callable[[str], object]
    """Returns what the entry means; raises NotUnderstood."""
    value: str = ""
    hint: str = ""


class Early:
    """Takes what is typed before a window's first entry is ready, so that none of it is lost.

    A fast hand, or a terminal far away, sends several keys at once: those behind the one that
    opens the window still go to the view under it.
    """

    def __init__(self) -> None:
        self._typed = ""
        self._entry: Input | None = None

    def take(self, event: events.Key) -> None:
        """Take a letter, so that it is not taken for a command."""
        if not event.is_printable or event.character is None:
            return
        event.stop()
        event.prevent_default()
        if self._entry is not None:
            self._entry.insert_text_at_cursor(event.character)
        else:
            self._typed += event.character

    def give(self, entry: Input) -> None:
        """Put what was taken into an entry that is ready now."""
        self._entry = entry
        if self._typed:
            entry.value = self._typed
            entry.cursor_position = len(entry.value)


class Form(ModalScreen[dict[str, str] | None]):
    """Asks for a few entries. Enter goes on to the next that is wrong or missing, then ends."""

    DEFAULT_CSS = f"""
    Form {{ align: center middle; background: transparent; }}
    Form #ground {{ width: {FORM_CELLS + BESIDE}; {GROUND} }}
    Form #sheet {{ width: {FORM_CELLS}; height: auto; {WINDOW} }}
    Form Static {{ height: auto; }}
    Form .fault {{ text-style: bold; }}
    Form Input {{ {ENTRY} }}
    Form.-seven-bits #sheet {{ border: ascii $foreground; }}
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", show=False)]

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        *,
        notes: Sequence[str] = (),
        first: str = "",
        late: Callable[[], Sequence[str]] | None = None,
    ) -> None:
        super().__init__()
        self._title = title
        self._fields = tuple(fields)
        self._notes = tuple(notes)
        """What is to be seen before anything is typed."""
        self._late = late
        """Reads, beside the screen, what speaks against it."""
        self._first = first
        """The entry to begin with; '' for the first that wants something typed."""
        self.early = Early()

    def compose(self) -> ComposeResult:
        """Lay the entries under one another."""
        with Vertical(id="ground"), Vertical(id="sheet"):
            yield Static(Content(clean(self._title)))
            for note in self._notes:
                yield Static(Content(clean(note)))
            yield Static(Content(""), id="late", classes="fault")
            for each in self._fields:
                hint = f"  ({each.hint})" if each.hint else ""
                yield Static(Content(f"{each.label}{hint}"))
                yield Input(
                    each.value, id=each.id, select_on_focus=True, compact=True, max_length=1000
                )
            yield Static(Content(""), id="fault", classes="fault")
            yield Static(Content("Enter: go on    Tab: next entry    Esc: leave it"))

    def on_mount(self) -> None:
        """Begin with the first entry that wants something typed."""
        app: LinewatchApp = self.app  # type: ignore[assignment]
        self.set_class(app.is_plain, "-seven-bits")
        wanting = [each for each in self._fields if each.id == self._first]
        wanting += [each for each in self._fields if self._fault(each)]
        first = self._entry((wanting or list(self._fields))[0])
        first.focus()
        self.call_after_refresh(self.early.give, first)
        late = self.query_one("#late", Static)
        late.display = False
        if self._late is not None:
            look = partial(self._read_late, self._late)
            self.run_worker(look, thread=True, group="record", exit_on_error=False)

    def _read_late(self, late: Callable[[], Sequence[str]]) -> None:
        told = late()
        if told:
            self.app.call_from_thread(self._tell_late, told)

    def _tell_late(self, told: Sequence[str]) -> None:
        rows = [f"against it: {clean(each)}" for each in told]
        late = self.query_one("#late", Static)
        late.update(Content("\n".join(rows)))
        late.display = True

    def _entry(self, each: Field) -> Input:
        return self.query_one(f"#{each.id}", Input)

    def _fault(self, each: Field) -> str:
        try:
            each.check(self._entry(each).value)
        except NotUnderstood as fault:
            return str(fault)
        return ""

    def on_input_submitted(self) -> None:
        """End if every entry is understood; else go to the first that is not, and say why."""
        for each in self._fields:
            fault = self._fault(each)
            if fault:
                said = clean(f"{each.label}: {fault}")
                self.query_one("#fault", Static).update(Content(said))
                self._entry(each).focus()
                return
        self.dismiss({each.id: self._entry(each).value for each in self._fields})

    def action_leave(self) -> None:
        """Leave without doing anything."""
        self.dismiss(None)


@dataclass(frozen=True, slots=True)
class Entry:
    """Something that can be found by typing."""

    target: str
    name: str
    tells: str = ""


def folded(text: str) -> str:
    """Return a text as it is compared: no capitals, no accents, 'ß' as 'ss'."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(each for each in apart if not unicodedata.combining(each))


SPELT: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe", "æ": "ae"})
"""How letters are typed where the keyboard has none of them."""


def matching(entries: Sequence[Entry], typed: str, most: int = 200) -> list[Entry]:
    """Return the entries that hold every word typed, however its accents were typed.

    First come those whose name holds the words side by side, then those with words that begin
    so; among equals the order of the entries stays.
    """
    words = folded(typed).split()
    phrase = " ".join(words)
    found = []
    for index, each in enumerate(entries):
        text = f"{each.name} {each.tells} {each.target}"
        spelt = f"{folded(text)} {folded(text.casefold().translate(SPELT))}"
        if not all(word in spelt for word in words):
            continue
        name = f" {folded(each.name)}\n {folded(each.name.casefold().translate(SPELT))}"
        begun = sum(f" {word}" not in name for word in words)
        found.append((f" {phrase}" not in name, begun, index, each))
    return [each for *_, each in sorted(found, key=lambda one: one[:3])[:most]]


FINDER_FRAME: Final = 5
"""Rows of a finder that are not for what is found: borders, title, what is typed, keys."""
FOUND_ROWS: Final = 18
FINDER_CELLS: Final = 96
FINDER_EDGES: Final = 5
"""Cells of a row of a finder that are for border, blanks and the mark at the right edge."""
REMARK_CELLS: Final = 24
"""What a long name leaves to the remark beside it."""
NAME_CELLS: Final = 34
WIDE_NAME_CELLS: Final = 64
LEAST_NAME_CELLS: Final = 10
SHORT_REMARK: Final = 10


class Finder(ModalScreen[str | None]):
    """Finds one of many by typing; returns its target."""

    DEFAULT_CSS = f"""
    Finder {{ align: center middle; background: transparent; }}
    Finder #ground {{ width: {FINDER_CELLS + BESIDE}; {GROUND} }}
    Finder #sheet {{ width: {FINDER_CELLS}; height: auto; max-height: 24; {WINDOW} }}
    Finder Static {{ height: auto; }}
    Finder #found {{ height: 18; }}
    Finder Input {{ {ENTRY} }}
    Finder.-seven-bits #sheet {{ border: ascii $foreground; }}
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", show=False),
        Binding("up", "step(-1)", show=False, priority=True),
        Binding("down", "step(1)", show=False, priority=True),
        Binding("pageup", "step(-10)", show=False, priority=True),
        Binding("pagedown", "step(10)", show=False, priority=True),
    ]

    def __init__(
        self,
        title: str,
        entries: Sequence[Entry],
        other: Callable[[str], Entry | None] | None = None,
    ) -> None:
        super().__init__()
        self._title = title
        self._entries = tuple(entries)
        self._other = other
        """What else may be meant by what is typed, beside what is listed."""
        # Short remarks leave their room to the names beside them.
        told = max((cells(clean(each.tells, 200)) for each in self._entries), default=0)
        longest = max((cells(clean(each.name, 100)) for each in self._entries), default=0)
        most = NAME_CELLS if told > SHORT_REMARK else WIDE_NAME_CELLS
        self._name_width = max(min(longest + 1, most), LEAST_NAME_CELLS)
        self._found = list(self._entries)
        self.early = Early()
        self.sheet = Sheet(id="found")

    def compose(self) -> ComposeResult:
        """Lay what is typed over what is found."""
        with Vertical(id="ground"), Vertical(id="sheet"):
            yield Static(Content(clean(self._title)))
            yield Input(
                id="typed", compact=True, max_length=200, placeholder="type some of its name"
            )
            yield self.sheet
            yield Static(Content("Up Down: choose    Enter: take it    Esc: leave it"))

    def on_mount(self) -> None:
        """Show everything until something is typed."""
        # As high as what there is to choose from; where the terminal is low, what has room.
        room = max(self.app.size.height - FINDER_FRAME, 1)
        self.sheet.styles.height = min(len(self._entries), FOUND_ROWS, room)
        app: LinewatchApp = self.app  # type: ignore[assignment]
        self.set_class(app.is_plain, "-seven-bits")
        self.sheet.look(app.palette_name, is_plain=app.is_plain)
        typed = self.query_one(Input)
        typed.focus()
        self.call_after_refresh(self._show)
        self.call_after_refresh(self.early.give, typed)

    def on_resize(self) -> None:
        """Show as many as fit."""
        room = max(self.app.size.height - FINDER_FRAME, 1)
        self.sheet.styles.height = min(len(self._entries), FOUND_ROWS, room)
        self.call_after_refresh(self._show)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show what matches."""
        self._found = matching(self._entries, event.value)
        if self._other is not None and (more := self._other(event.value.strip())) is not None:
            self._found.append(more)
        self.sheet.begin("", 0)
        self._show()

    def _show(self) -> None:
        room = min(FINDER_CELLS, self.app.size.width) - FINDER_EDGES
        rows = [self._row(each, room) for each in self._found]
        self.sheet.show(
            rows or [row(Span(" nothing is called that", "quiet"))], self.sheet.size.height
        )

    def _row(self, each: Entry, room: int) -> Row:
        """Return an entry; a long name takes room of the remark beside it."""
        name, tells = clean(each.name, 100), clean(each.tells, 200)
        width = max(self._name_width, min(cells(name), room - REMARK_CELLS))
        return row(
            Span(f" {fit(name, width)} "),
            Span(cut(tells, max(room - width, 0)), "quiet"),
            target=each.target,
        )

    def action_step(self, by: int) -> None:
        """Move the cursor among what is found."""
        self.sheet.move(by)

    def on_input_submitted(self) -> None:
        """Take what the cursor is on."""
        self.dismiss(self.sheet.choice or None)

    def on_sheet_chosen(self, message: Sheet.Chosen) -> None:
        """Take what is pointed at."""
        message.stop()
        self.dismiss(message.target)

    def action_leave(self) -> None:
        """Leave without choosing."""
        self.dismiss(None)

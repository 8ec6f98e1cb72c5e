"""A small line's blocks, made up, and journals that are always closed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from linewatch import history
from tests.history.made_up import LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from linewatch.history.desk import StoreDesk
    from linewatch.history.journal import StoreJournal


@pytest.fixture
def open_journal(tmp_path: Path) -> Iterator[Callable[..., StoreJournal]]:
    """Open journals of the one line in this test's store; all are closed at the end."""
    opened: list[StoreJournal] = []

    def open_(line_id: str = LINE, store: Path = tmp_path) -> StoreJournal:
        opened.append(history.open_journal(store, line_id))
        return opened[-1]

    yield open_
    for journal in opened:
        journal.close()


@pytest.fixture
def open_desk(tmp_path: Path) -> Iterator[Callable[..., StoreDesk]]:
    """Open desks of the one line in this test's store; all are closed at the end."""
    opened: list[StoreDesk] = []

    def open_(line_id: str = LINE, store: Path = tmp_path) -> StoreDesk:
        opened.append(history.open_desk(store, line_id))
        return opened[-1]

    yield open_
    for desk in opened:
        desk.close()

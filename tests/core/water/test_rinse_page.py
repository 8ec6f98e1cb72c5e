"""Rinses and levels in words."""

from __future__ import annotations

from linewatch.core.water.rinse_page import leak_words, levels_table, pm
from linewatch.core.water.seen import LevelPicture


def test_minus_nothing_is_nothing():
    assert pm(-0.04, None, 1) == "0.0"
    assert pm(-0.06, 0.02, 1) == "-0.1 ± 0.0"


def test_a_leak_that_nobody_can_tell_says_why():
    learning = LevelPicture(tank="a", leaks_unknown="being learned: 3 of 24 half hours of rest")
    assert leak_words(learning) == "being learned: 3 of 24 half hours of rest"
    assert leak_words(LevelPicture(tank="a", leaks_l_per_h=0.0)) == "none seen"
    assert leak_words(LevelPicture(tank="a", leaks_l_per_h=2.04)) == "2.0 more than usual"
    assert "being learned" in levels_table([learning], {}).rows[0][6]

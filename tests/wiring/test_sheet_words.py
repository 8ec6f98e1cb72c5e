"""What is looked at by hand is named in the words that stand on the sheet."""

import pytest

from linewatch.core.errors import Refused
from linewatch.core.sheets.items import BY_HAND
from linewatch.wiring.sheets import items_meant


@pytest.mark.parametrize("kind", sorted(BY_HAND))
def test_every_row_of_the_sheet_is_understood_by_its_id_and_by_its_words(kind):
    for item in BY_HAND[kind]:
        assert items_meant(kind, "14 Nickel 1", item.id) == item.id
        assert items_meant(kind, "14 Nickel 1", item.text) == item.id


def test_several_are_named_with_commas_and_a_word_of_a_row_is_enough():
    assert items_meant("plate", "14 Nickel 1", "bags, anodes") == "bags,anodes"
    assert items_meant("plate", "14 Nickel 1", "foam,saddles") == "surface,bars"
    assert items_meant("rinse", "4 Rinse", "clear") == "clarity"


def test_what_is_not_on_its_sheet_is_refused_with_what_is():
    with pytest.raises(Refused) as refused:
        items_meant("plate", "14 Nickel 1", "clarity")
    assert "at 14 Nickel 1" in str(refused.value)
    for item in BY_HAND["plate"]:
        assert f"{item.id} = {item.text}" in str(refused.value)
    with pytest.raises(Refused):
        items_meant("plate", "14 Nickel 1", "anode")

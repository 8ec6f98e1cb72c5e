"""A quantity that was found on a load has a unit that is known; words are taken as they are."""

import pytest

from linewatch.core.errors import Refused
from linewatch.core.loads.findings import check_finding


@pytest.mark.parametrize(
    ("what", "found", "says"),
    [
        ("thickness", "8.4 bananas", "the unit 'bananas' is not known; write it as"),
        ("Thickness of nickel", "8.4", "'8.4' has no unit"),
        ("thickness", "7.9 to 8.4 h", "the unit 'h' is a time, not a length"),
        ("salt spray", "96 um", "the unit 'um' is a length, not a time"),
    ],
)
def test_a_figure_without_a_unit_of_its_kind_is_refused(what, found, says):
    with pytest.raises(Refused, match=says):
        check_finding("7208", what, found)


@pytest.mark.parametrize(
    ("what", "found"),
    [
        ("thickness", "8.4 um"),
        ("thickness", "8.4µm"),
        ("thickness", "0.33 mil at the rim"),
        ("thickness", "7.9 to 8.4 um"),
        ("thickness", "8,1, 8,6, 8,4 um (3 places)"),
        ("thickness", "8.4 ± 0.3 um"),
        ("thickness", "> 8 microns"),
        ("thickness", "too thin"),
        ("salt spray", "96 h"),
        ("salt spray", "white rust after 48 h"),
        ("adhesion", "0 of 6 peeled"),
        ("hardness", "650 HV"),
    ],
)
def test_quantities_and_words_are_taken(what, found):
    check_finding("7208", what, found)

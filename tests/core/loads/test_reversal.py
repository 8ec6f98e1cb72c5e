"""What a charge that flowed the wrong way says of the metal that was laid down."""

import pytest

from linewatch.core.loads.reversal import wrong_way_words


@pytest.mark.parametrize(
    ("cathodic_ah", "anodic_ah"), [(100.0, 1.0), (0.0, 50.0), (1.0, 0.05), (100.0, 0.0)]
)
def test_little_the_wrong_way_or_nothing_to_dissolve_says_nothing(cathodic_ah, anodic_ah):
    assert wrong_way_words(cathodic_ah, anodic_ah) == ""


def test_more_than_a_hundredth_the_wrong_way_may_have_taken_metal_off():
    assert wrong_way_words(15.5, 320.0) == (
        "320.0 A·h flowed the wrong way: what was laid down may have dissolved"
    )

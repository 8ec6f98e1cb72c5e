"""What a picture says of its own totals."""

from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.view import ChargePicture, MetalPicture

SECONDS = st.floats(0.0, 1e6)


def test_an_account_of_time_adds_up_in_whole_seconds_too():
    charge = ChargePicture(metered_s=6205.4, unmetered_s=1.2, elapsed_s=6206.6)
    assert charge.whole_s == (6206, 0, 1, 6207)


@given(SECONDS, SECONDS, SECONDS)
def test_every_account_adds_up_and_no_part_is_off_by_a_second(metered, recovered, unmetered):
    exact = (metered, recovered, unmetered)
    charge = ChargePicture(
        metered_s=metered, recovered_s=recovered, unmetered_s=unmetered, elapsed_s=sum(exact)
    )
    *parts, elapsed = charge.whole_s
    assert sum(parts) == elapsed == round(sum(exact))
    assert all(abs(part - each) <= 1.0 for part, each in zip(parts, exact, strict=True))


def test_metal_is_short_where_more_may_be_missing_than_its_doubt():
    metal = MetalPicture(deposit="Ni", mass_g=304.0, uncertainty_g=4.0)
    assert not metal.is_short
    assert not MetalPicture(
        deposit="Ni", mass_g=304.0, uncertainty_g=4.0, missed_g=3.9
    ).is_short
    assert MetalPicture(deposit="Ni", mass_g=304.0, uncertainty_g=4.0, missed_g=4.1).is_short

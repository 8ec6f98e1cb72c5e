"""What people call a deposit, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewatch.core.electrochemistry.alloys import ALLOYS, deposit_named, metal_names
from linewatch.core.electrochemistry.metals import METALS, deposit
from linewatch.core.errors import OutsideValidity, UnitMismatch


@pytest.mark.parametrize("name", ALLOYS)
def test_the_fractions_of_a_named_alloy_add_up_to_the_whole(name: str):
    assert sum(ALLOYS[name].values()) == pytest.approx(1.0, abs=1e-12)
    assert deposit_named(name) == deposit(ALLOYS[name])


@pytest.mark.parametrize("name", METALS)
def test_a_metal_is_known_by_its_name_with_valence(name: str):
    assert deposit_named(name).parts == ((METALS[name], 1.0),)


def test_a_metal_of_one_valence_needs_none():
    assert deposit_named(" Ni ") == deposit_named("Ni(II)")


@pytest.mark.parametrize("symbol", ["Cu", "Sn", "Cr", "Au", "Pt"])
def test_a_metal_of_two_valences_asks_which(symbol: str):
    with pytest.raises(UnitMismatch, match=" or ") as refused:
        deposit_named(symbol)

    assert all(name in str(refused.value) for name in metal_names(symbol))


@given(zinc=st.integers(1, 99))
def test_mass_fractions_can_be_written_in_percent_or_as_ratios(zinc: int):
    percent = deposit_named(f"Zn(II) {zinc} % + Ni(II) {100 - zinc} %")
    ratio = deposit_named(f"Zn={zinc / 100:.2f}, Ni={1 - zinc / 100:.2f}")

    assert percent.equivalent_g_per_ah == pytest.approx(ratio.equivalent_g_per_ah)
    assert percent.density_g_per_cm3 == pytest.approx(ratio.density_g_per_cm3)


@pytest.mark.parametrize("text", ["", "unobtainium", "Zn + Ni", "Zn 1.2.3 + Ni 0.5", "50 %"])
def test_what_names_no_deposit_is_refused(text: str):
    with pytest.raises(UnitMismatch):
        deposit_named(text)


def test_fractions_that_leave_a_part_out_are_refused():
    with pytest.raises(OutsideValidity, match="sum of the mass fractions"):
        deposit_named("Zn 80 % + Ni 14 %")

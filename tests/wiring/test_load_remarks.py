"""What is told besides when something is said of a load."""

from types import SimpleNamespace

import pytest

from linewatch import config
from linewatch.cli.loads import number_words
from linewatch.core.errors import Refused
from linewatch.wiring.load_remarks import bake_remark, check_measured, layer_words, part_remark
from linewatch.wiring.loads import nearest_numbers
from linewatch.wiring.places import shipped
from tests.ui import invented

PLAN = config.read(shipped("demo.toml")).plan
CU, NI = (
    SimpleNamespace(deposit="Cu", bath="copper"),
    SimpleNamespace(deposit="Ni", bath="nickel"),
)


def test_a_part_that_is_near_one_of_the_catalogue_is_told_with_it():
    known = PLAN.parts[0]
    assert part_remark(PLAN, known.name) == part_remark(PLAN, known.id) == ""
    assert part_remark(PLAN, "") == ""
    told = part_remark(PLAN, known.name[:-1])
    assert f"{known.name} ({known.id})" in told
    assert "--why" in told


def test_a_thickness_says_for_which_layer_it_counts_or_how_to_say_it():
    assert layer_words("7", "thickness", [NI]) == "counted for its Ni"
    assert layer_words("7", "thickness Ni", [CU, NI]) == "counted for its Ni"
    assert layer_words("7", "thickness (copper)", [CU, NI]) == "counted for its Cu"
    told = layer_words("7", "thickness", [CU, NI])
    assert "none of its layers (Cu, Ni)" in told
    assert 'load found 7 "thickness Ni"' in told


def test_a_hardness_has_a_scale():
    for good in ("550 HV", "62 HRC", "540 to 560 HV0.05", "soft"):
        check_measured("7", "hardness", good)
    check_measured("7", "appearance", "9 bananas")
    for bad in ("9 bananas", "9"):
        with pytest.raises(Refused, match="no scale of hardness"):
            check_measured("7", "hardness", bad)


def test_a_load_in_an_oven_that_hangs_in_a_tank_is_told_to_hang_there():
    desk = invented.InventedDesk(invented.line())
    picture = desk.picture()
    tank = next(each for each in picture.tanks if each.load is not None and each.load.number)
    where = picture.present(tank.load.number).tank_name
    assert f"it is in {where} still" in bake_remark(desk, tank.load.number)
    assert bake_remark(desk, "nobody") == ""


def test_the_nearest_loads_are_those_of_the_nearest_numbers():
    known = ["4129", "4128", "4113", "4111", "4099", "samples-1795901196"]
    assert nearest_numbers("4112", known) == ["4111", "4113", "4099", "4128"]
    assert nearest_numbers("4x", ["4x1"]) == ["4x1"]


def test_a_load_without_a_number_is_called_so_as_on_the_screen():
    assert number_words("samples-1795901196") == "no number"
    assert number_words("4112") == "4112"
    assert number_words("lot-12") == "lot-12"

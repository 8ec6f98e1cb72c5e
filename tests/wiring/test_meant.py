"""What a person means: by number, name or id; else the nearest are told."""

from dataclasses import replace

import pytest

from linewatch.core.errors import Refused
from linewatch.wiring.meant import Thing, meant, things
from linewatch.wiring.rinses import rinse_meant
from tests.ui import invented

PICTURE = invented.line()
CHROMIUM = next(each for each in PICTURE.tanks if "hrom" in each.name and each.rectifiers)
ALL = list(things(PICTURE))
KINDS = ("tank", "rectifier", "bath")


@pytest.mark.parametrize(
    "said",
    [CHROMIUM.id, CHROMIUM.number, CHROMIUM.name, CHROMIUM.name.upper(), CHROMIUM.called],
)
def test_a_position_is_meant_by_id_number_name_or_both(said):
    assert meant(ALL, said, "explain it") == CHROMIUM.id


def test_a_part_of_a_name_is_enough_where_only_one_thing_has_it():
    assert meant(ALL, "bright nickel 9", "x", KINDS) == "rect-nickel-1"


def test_an_id_wins_over_a_name_that_others_have():
    others = [replace(each, name="nickel") if each.kind == "tank" else each for each in ALL]

    assert meant(others, "nickel", "x", KINDS) == "nickel"


def test_several_of_one_name_are_told_each_with_its_id():
    twins = [
        replace(each, name="Acid") if each.id in {"nickel-1", "soak-1"} else each
        for each in ALL
    ]

    with pytest.raises(Refused, match=r"look: several are called so: .* Acid \(soak-1\)"):
        meant(twins, "acid", "look")


def test_what_nobody_is_called_is_refused_with_the_nearest():
    with pytest.raises(Refused, match=r"no tank 'nikel-1'; the nearest: .*\(nickel-1\)"):
        meant(ALL, "nikel-1", "look")


def test_where_nothing_is_near_some_of_what_there_is_are_told():
    with pytest.raises(Refused, match=r"no tank '@@@'; there are .* and \d+ more"):
        meant(ALL, "@@@", "look")


def test_only_what_is_asked_for_can_be_meant():
    with pytest.raises(Refused, match="no bath"):
        meant(ALL, "nickel-1", "look", ("bath",))


def test_a_position_that_is_no_rinse_is_told_by_its_name_beside_the_rinses():
    among = [
        Thing(id="rinse-1", kind="tank", number="4", name="Rinse"),
        Thing(id="nickel-1", kind="tank", number="14", name="Nickel 1"),
    ]
    assert rinse_meant(among, {"rinse-1"}, "rinse") == "rinse-1"
    with pytest.raises(Refused, match=r"14 Nickel 1 \(nickel-1\) is no rinse .* 4 Rinse"):
        rinse_meant(among, {"rinse-1"}, "nickel 1")
    with pytest.raises(Refused, match=r"there is no tank 'zinc'"):
        rinse_meant(among, {"rinse-1"}, "zinc")

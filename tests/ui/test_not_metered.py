"""A total that misses what nobody metered says so wherever it stands, and how much."""

from dataclasses import replace

from linewatch.cli.line_words import tank_words
from linewatch.core.electrochemistry.explanation import explain_dose
from linewatch.ui.draw.baths import bath_detail, bath_rows
from linewatch.ui.draw.explain import explanation_rows, why_rows
from linewatch.ui.draw.parts import charge_rows, load_rows, metal_rows
from linewatch.ui.draw.rows import Look
from tests.ui import invented

LOOK = Look(width=160, height=60, now_ns=invented.NOON)


def words(rows) -> str:
    return " ".join(" ".join("".join(span.text for span in row.spans) for row in rows).split())


def line(missed_ah: float, missed_g: float):
    """The line, with so much of one nickel tank's charge and metal not metered."""
    picture = invented.line()
    tank = next(each for each in picture.tanks if each.id == "nickel-2")
    charge = replace(
        tank.charge, cathodic_ah=290.7, anodic_ah=0.0, uncertainty_ah=1.7, missed_ah=missed_ah
    )
    metal = replace(tank.metal, mass_g=304.0, uncertainty_g=4.0, missed_g=missed_g)
    tank = replace(tank, charge=charge, metal=metal)
    others = tuple(
        replace(each, charge=replace(each.charge, missed_ah=0.0)) if each.charge else each
        for each in picture.tanks
        if each.id != tank.id
    )
    baths = tuple(
        replace(each, metal=replace(metal, mass_g=1613.0)) if tank.id in each.tanks else each
        for each in picture.baths
    )
    return replace(picture, tanks=(*others, tank), baths=baths), tank


def test_a_tank_says_at_least_and_how_much_more_of_charge_and_of_metal():
    _, tank = line(1756.0, 1920.0)
    charge, metal = words(charge_rows(tank.charge, LOOK)), words(metal_rows(tank.metal, LOOK))
    assert "cathodic at least 290.7 ± 1.7 A·h up to 1756 A·h more: not metered" in charge
    assert "at least 304 ± 4 g up to 1920 g more: not metered" in metal


def test_a_tank_that_was_metered_says_neither():
    _, tank = line(0.0, 0.0)
    both = words([*charge_rows(tank.charge, LOOK), *metal_rows(tank.metal, LOOK)])
    assert "at least" not in both
    assert "not metered" not in both


def test_its_bath_says_so_of_charge_and_of_metal():
    picture, tank = line(1756.0, 1920.0)
    bath = next(each for each in picture.baths if tank.id in each.tanks)
    (row,) = [each for each in bath_rows(picture, LOOK) if each.target == f"bath {bath.id}"]
    assert f"{bath.charge_ah:.1f}* A·h" in words([row]).replace(",", "")
    detail = words(bath_detail(bath, LOOK))
    assert "at least 1613 ± 4 g" in detail
    assert "what was metered since the record began" in detail
    assert "all that was laid down" not in detail


def test_why_says_so_and_so_does_the_line_in_words():
    picture, tank = line(1756.0, 1920.0)
    why = words(why_rows(picture, f"tank {tank.id}", LOOK))
    assert "at least 290.70 A·h" in why
    assert "up to 1756 A·h more may have flowed" in why
    assert "mass at least 304.0 ± 4.0 g" in why
    assert "charge at least 290.7 A·h" in tank_words(tank, "metric")
    assert "at least 304 g" in tank_words(tank, "metric")


def test_what_a_bath_is_owed_is_the_same_range_wherever_the_cursor_stands():
    picture = invented.line()
    bath = next(each for each in picture.baths if each.additives)
    additive = replace(bath.additives[0], owed_ml=278.0, owed_high_ml=594.0)
    picture = replace(picture, baths=(replace(bath, additives=(additive,)),))
    why = explain_dose(278.0, inputs=())
    rows = {
        "list": bath_rows(picture, LOOK),
        "additive": why_rows(picture, f"additive {bath.id}/{additive.id}", LOOK),
        "bath": explanation_rows(replace(why, most=594.0), LOOK),
    }
    for where, shown in rows.items():
        assert "278 to 594" in words(shown), where


def test_a_load_that_was_not_metered_throughout_has_at_least_what_was_counted():
    tank = next(each for each in invented.line().tanks if each.load and each.load.charge_ah)
    assert "charge at least 112.0 A·h" in words(
        load_rows(replace(tank.load, unmetered_s=95.0), LOOK)
    )
    assert "at least" not in words(load_rows(tank.load, LOOK))

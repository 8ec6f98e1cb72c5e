"""Colours: contrast by computation, and nothing told by colour alone."""

import pytest

from linewatch.ui.palette import (
    LEAST_CONTRAST,
    PALETTES,
    PLAINEST,
    ROLES,
    SIXTEEN,
    THEMES,
    contrast,
    style,
    theme,
)


def test_contrast_is_computed_as_wcag_defines_it():
    """WCAG 2.2, definition of contrast ratio: black on white is 21, like on like is 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#777777", "#777777") == pytest.approx(1.0, abs=1e-9)
    # The well-known border case of level AA: #767676 passes on white, #777777 does not.
    assert contrast("#767676", "#ffffff") >= LEAST_CONTRAST
    assert contrast("#777777", "#ffffff") < LEAST_CONTRAST


@pytest.mark.parametrize("palette", THEMES, ids=lambda each: each.name)
@pytest.mark.parametrize("role", ROLES)
def test_every_pair_of_colours_that_can_meet_has_enough_contrast(palette, role):
    pigment = palette.pigments[role]
    grounds = [pigment.ground] if pigment.ground else [palette.ground, palette.chosen]

    for ground in grounds:
        assert contrast(pigment.ink, ground) >= LEAST_CONTRAST, f"{pigment.ink} on {ground}"


@pytest.mark.parametrize("palette", THEMES, ids=lambda each: each.name)
def test_the_toolkits_own_widgets_have_enough_contrast_too(palette):
    made = theme(palette)

    for ground in (made.background, made.surface, made.panel):
        assert contrast(made.foreground, ground) >= LEAST_CONTRAST
    for part in ("cursor", "selection"):
        ink, ground = (
            made.variables[f"input-{part}-{of}"] for of in ("foreground", "background")
        )
        assert contrast(ink, ground) >= LEAST_CONTRAST


@pytest.mark.parametrize("palette", PALETTES.values(), ids=lambda each: each.name)
def test_every_palette_knows_every_role(palette):
    assert set(palette.pigments) == set(ROLES)


def test_without_colours_no_style_has_a_colour():
    for role in ROLES:
        for chosen in (False, True):
            drawn = style(PLAINEST.name, role, chosen=chosen)
            assert drawn.color is None
            assert drawn.bgcolor is None


def test_without_colours_what_is_new_stands_out_from_what_was_seen():
    for priority in ("low", "medium", "high", "highest"):
        assert style(PLAINEST.name, f"{priority}-new").reverse
        assert not style(PLAINEST.name, priority).reverse


def test_with_sixteen_colours_only_those_sixteen_are_used():
    for role in ROLES:
        drawn = style(SIXTEEN.name, role)
        for colour in (drawn.color, drawn.bgcolor):
            assert colour.number is not None
            assert colour.number < 16


def test_a_well_line_has_no_colour_that_an_alarm_has():
    for palette in THEMES:
        loud = {palette.pigments[each].ink for each in ("medium", "high", "highest")}
        quiet = {palette.pigments[each].ink for each in ("plain", "quiet", "strong", "gauge")}
        assert not loud & quiet

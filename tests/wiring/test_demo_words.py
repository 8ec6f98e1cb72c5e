"""What the demo's lists say, in the words of the screen."""

from linewatch.wiring.demo import troubles_told, with_names

CALLED = {
    "rinse-6": "20 Rinse after chromium",
    "rinse-16": "40 Rinse",
    "chromium": "19 Chromium",
}


def test_a_trouble_names_its_position_as_the_screen_does():
    row = (
        "rinse-6-off   preparation    The water of rinse-6 is shut; rinse-16 and chromium too."
    )
    assert with_names(row, CALLED) == (
        "rinse-6-off   preparation    The water of 20 Rinse after chromium is shut;"
        " 40 Rinse and chromium too."
    )


def test_no_trouble_of_the_demo_speaks_of_an_id():
    told = troubles_told("works")
    assert "The heater of 15 Nickel 2 gives no heat" in told
    for row in told.splitlines():
        assert "nickel-" not in row[39:]
        assert "rinse-" not in row[39:]

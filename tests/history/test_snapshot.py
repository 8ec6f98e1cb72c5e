"""The present picture: whole, newest, and never in the way."""

from __future__ import annotations

import pytest

from linewatch.core.commands import HandReading
from linewatch.core.line import Line
from linewatch.core.ports import Order
from linewatch.history.places import places
from linewatch.history.snapshot import PictureReader, PictureWriter
from tests.core.line.invented import NS, PLAN, TANKS, feed
from tests.core.line.invented import block as invented_block
from tests.core.line.invented import moment as invented_moment
from tests.history.made_up import LINE, picture


@pytest.fixture
def written(tmp_path):
    """Publish pictures one after another, each written before the next."""
    there = places(tmp_path, LINE)
    there.folder.mkdir()

    def write(*pictures):
        for each in pictures:
            writer = PictureWriter(there)
            writer.publish(each)
            writer.close(5.0)
        return there

    return write


def test_there_is_no_picture_before_the_first(tmp_path):
    assert PictureReader(places(tmp_path, LINE)).picture() is None


def test_the_newest_picture_is_read_back_equal(written):
    there = written(picture(1.0))
    reader = PictureReader(there)
    assert reader.picture() == picture(1.0)

    for second in (2.0, 3.0, 4.0):
        written(picture(second))

        assert reader.picture() == picture(second)


def test_an_unchanged_picture_is_not_parsed_again(written):
    reader = PictureReader(written(picture(1.0)))

    assert reader.picture() is reader.picture()


def test_a_torn_picture_gives_way_to_the_one_before(written):
    there = written(picture(1.0), picture(2.0))
    newest = max((there.picture(0), there.picture(1)), key=lambda f: f.read_bytes()[4:12])
    torn = bytearray(newest.read_bytes())
    torn[200] ^= 1
    newest.write_bytes(torn)

    assert PictureReader(there).picture() == picture(1.0)


def test_a_shorter_picture_leaves_nothing_of_a_longer_one(written):
    there = written(
        picture(1.0, tanks=200), picture(2.0, tanks=200), picture(3.0), picture(4.0)
    )

    assert PictureReader(there).picture() == picture(4.0)


def test_files_that_are_no_pictures_are_no_pictures(tmp_path):
    there = places(tmp_path, LINE)
    there.folder.mkdir()
    there.picture(0).write_bytes(b"")
    there.picture(1).write_bytes(b"something else altogether, and longer than a head")

    assert PictureReader(there).picture() is None


def test_viewers_see_what_the_collector_publishes(open_journal, open_desk):
    journal = open_journal()
    desk = open_desk()
    assert desk.picture() is None
    journal.publish(picture(1.0))
    journal.publish(picture(2.0))
    journal.close()

    assert desk.picture() == picture(2.0)
    assert not desk.alive()


def live_picture(second: int):
    """Return a picture of a line that was read, whose figures stand in columns."""
    line = Line(PLAN)
    values = [60.0 + second, 800.0, 1.0, 7.0, 4.0, 0.0, 1.0]
    feed(line, invented_block(TANKS, second * NS, values, [0, 0, 0, 0, 0x85, 0, 0]))
    command = HandReading(
        who="AB", subject="nickel", kind="density", value=1.2, unit="g/cm3", note=""
    )
    feed(line, Order(request=1, command=command, at=invented_moment(second * NS)))
    return line.picture(invented_moment(second * NS))


def test_figures_in_columns_are_read_back_equal(written):
    there = written(live_picture(1))
    reader = PictureReader(there)

    for second in (1, 2, 3, 4):
        shown = live_picture(second)
        written(shown)

        found = reader.picture()
        assert found == shown
        assert dict(found.tanks[0].figures) == dict(shown.tanks[0].figures)
        assert found.tanks[0].figures["temperature"].value == 60.0 + second
        assert found.tanks[0].figures["ph"].value is None
        assert found.tanks[0].figures["density"].value == 1.2


def test_a_writer_that_goes_on_is_read_picture_by_picture(tmp_path):
    there = places(tmp_path, LINE)
    there.folder.mkdir()
    writer, reader = PictureWriter(there), PictureReader(there)

    # Slots hold the table from the third picture on; only what follows it is written anew.
    for second in range(1, 7):
        shown = live_picture(second)
        writer.publish(shown)
        while reader.picture() != shown:
            pass
    other = picture(1.0)
    writer.publish(other)
    while reader.picture() != other:
        pass
    writer.close(5.0)

    assert PictureReader(there).picture() == other


def test_a_torn_table_gives_way_to_the_picture_before(written):
    there = written(live_picture(1), live_picture(2))
    newest = max((there.picture(0), there.picture(1)), key=lambda f: f.read_bytes()[4:12])
    torn = bytearray(newest.read_bytes())
    torn[40] ^= 1
    newest.write_bytes(torn)

    assert PictureReader(there).picture() == live_picture(1)

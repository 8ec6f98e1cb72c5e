"""The present picture: whole, newest, and never in the way."""

from __future__ import annotations

import pytest

from linewatch.history.places import places
from linewatch.history.snapshot import PictureReader, PictureWriter
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

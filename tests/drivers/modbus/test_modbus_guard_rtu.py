"""What may pass for an answer on a serial line, and what may not."""

import tomllib
from pathlib import Path

import pytest

from linewatch.drivers.modbus.question import (
    Answer,
    Broken,
    Failure,
    Question,
    Refusal,
)
from linewatch.drivers.modbus.rtu import RtuGuard, crc

CRC_CHECKS = [
    row
    for row in tomllib.loads(
        (Path(__file__).parents[2] / "data" / "check_values.toml").read_text()
    )["check"]
    if row["id"].startswith("modbus.crc.")
]


def raw(text: str) -> bytes:
    return bytes.fromhex(text.replace(" ", ""))


def sealed(text: str) -> bytes:
    return raw(text) + crc(raw(text))


def holding(address: int = 0, count: int = 1, *, unit: int = 1, **rest) -> Question:
    return Question(unit=unit, function=3, address=address, count=count, **rest)


def asked(question: Question, *, echo: bool = False) -> RtuGuard:
    guard = RtuGuard(echo=echo)
    guard.ask(question, 0.0)
    return guard


def kinds(guard: RtuGuard) -> list[Failure]:
    return [stray.failure for stray in guard.strays]


@pytest.mark.parametrize(
    "frame",
    [
        # Frames as reported by people who read them off real lines.
        "05 03 00 10 00 01 84 4B",
        "05 03 02 00 FA C9 C7",
        "05 03 00 20 00 01 84 44",
        "05 03 02 03 E7 09 3E",
        "01 03 04 00 07 00 08 4A 34",
        "01 03 00 10 00 01 85 CF",
        "01 03 02 04 D2 3A D9",
        "01 03 02 01 41 79 E4",
        "01 83 06 C1 32",
        "01 03 02 FF F6 79 F2",
        "01 03 02 12 34 B5 33",
    ],
)
def test_the_checksum_is_that_of_frames_seen_on_lines(frame):
    assert crc(raw(frame)[:-2]) == raw(frame)[-2:]


@pytest.mark.parametrize("check", CRC_CHECKS, ids=lambda row: row["id"])
def test_the_checksum_is_the_standards(check):
    body = check["quantity"].removeprefix("CRC bytes (low first) appended to ")
    assert crc(raw(body)) == raw(check["value"])


def test_a_late_answer_is_not_taken_for_the_next_one():
    guard = RtuGuard()
    assert guard.ask(holding(0x10, unit=5), 0.0) == raw("05 03 00 10 00 01 84 4B")
    guard.give_up(1.0)
    second = holding(0x20, unit=5)
    assert guard.is_confusable(second)
    assert guard.hear(raw("05 03 02 00 FA C9 C7"), 1.05) is None
    assert kinds(guard) == [Failure.LATE]
    assert not guard.is_confusable(second)
    assert guard.ask(second, 1.1) == raw("05 03 00 20 00 01 84 44")
    assert guard.hear(raw("05 03 02 03 E7 09 3E"), 1.3) == Answer(raw("03E7"))


def test_a_late_answer_of_one_unit_does_not_disturb_another():
    guard = RtuGuard()
    guard.ask(holding(0x10, unit=5), 0.0)
    guard.give_up(1.0)
    guard.ask(holding(0x20, unit=6), 1.0)
    stream = raw("05 03 02 00 FA C9 C7") + sealed("06 03 02 03 E7")
    assert guard.hear(stream, 1.1) == Answer(raw("03E7"))
    assert kinds(guard) == [Failure.LATE]


def test_a_late_answer_of_another_length_is_told_from_the_proof():
    guard = RtuGuard()
    guard.ask(holding(0, 4), 0.0)
    guard.give_up(1.0)
    guard.ask(holding(0, 3), 2.0)
    assert guard.hear(sealed("01 03 08 1111 1111 1111 1111"), 2.1) is None
    assert guard.hear(sealed("01 03 06 2222 2222 2222"), 2.2) == Answer(raw("222222222222"))
    assert guard.owed(1) == frozenset()


@pytest.mark.parametrize("unit", [0x00, 0xFF, 0x01])
def test_another_unit_is_no_answer_and_both_are_named(unit):
    guard = asked(holding(unit=0x11))
    assert guard.hear(sealed(f"{unit:02X} 03 02 00 07"), 0.1) is None
    broken = guard.give_up(1.0)
    assert broken.failure is Failure.FOREIGN_UNIT
    assert broken.text == f"unit 17 was asked, unit {unit} answers"


def test_a_device_known_to_answer_as_another_unit_is_believed():
    guard = asked(holding(unit=0x11, answers_as=0))
    assert guard.hear(sealed("00 03 02 00 07"), 0.1) == Answer(raw("0007"))


@pytest.mark.parametrize(
    ("reply", "failure"),
    [
        ("01 04 02 12 34", Failure.WRONG_FUNCTION),
        ("01 10 00 00 00 01", Failure.WRONG_FUNCTION),
        ("01 84 02", Failure.WRONG_FUNCTION),
        ("01 03 02 00 2A", Failure.WRONG_COUNT),
        ("01 03 00", Failure.WRONG_COUNT),
        ("01 03 0A 0001 0002 0003 0004 0005", Failure.WRONG_COUNT),
    ],
)
def test_a_sound_frame_of_another_kind_is_no_answer(reply, failure):
    verdict = asked(holding(0, 4)).hear(sealed(reply), 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is failure


def test_an_answer_in_single_bytes_is_one_answer_however_long_the_pauses():
    guard = asked(holding(0, 2))
    for place, byte in enumerate(raw("01 03 04 00 07 00 08 4A")):
        assert guard.hear(bytes([byte]), 0.01 * place) is None
        assert guard.rest(0.01 * place + 0.005) is None
    assert guard.hear(b"\x34", 0.1) == Answer(raw("0007 0008"))


@pytest.mark.parametrize("told", [True, False])
def test_an_echo_in_front_of_the_answer_is_stripped(told):
    guard = asked(holding(0x10), echo=told)
    stream = raw("01 03 00 10 00 01 85 CF") + raw("01 03 02 04 D2 3A D9")
    assert guard.hear(stream, 0.1) == Answer(raw("04D2"))
    # Nobody needs to be told what is configured; otherwise the remedy is named.
    assert [stray.text for stray in guard.strays] == (
        [] if told else ["the adapter echoes each request; see `echo`"]
    )


def test_an_echo_alone_is_never_an_answer_not_even_with_an_answers_shape():
    guard = RtuGuard(echo=False)
    request = guard.ask(Question(unit=1, function=2, address=0x0310, count=20), 0.0)
    assert request[1:3] == raw("02 03")
    assert len(request) == 5 + 3
    assert guard.hear(request, 0.1) is None
    assert guard.rest(0.2) is None
    assert guard.give_up(1.0).failure is Failure.ECHO


def test_an_echo_and_then_an_answer_in_single_bytes():
    guard = asked(holding(0x10), echo=True)
    stream = raw("01 03 00 10 00 01 85 CF") + raw("01 03 02 04 D2 3A D9")
    verdicts = [guard.hear(bytes([byte]), 0.001 * at) for at, byte in enumerate(stream)]
    assert verdicts[-1] == Answer(raw("04D2"))


@pytest.mark.parametrize("noise", ["00", "FF", "00 00", "FF 00 FF", "7E 7E 01", "01 03"])
def test_noise_before_an_answer_is_hunted_through_and_counted(noise):
    guard = asked(holding())
    verdict = guard.hear(raw(noise) + raw("01 03 02 01 41 79 E4"), 0.1)
    if verdict is None:
        # The noise looked like the beginning of something longer: a pause decides.
        assert guard.undecided
        verdict = guard.rest(0.12)
    assert verdict == Answer(raw("0141"))
    assert kinds(guard) == [Failure.NOISE]


def test_noise_that_promises_a_longer_frame_is_seen_through_after_a_pause():
    # 00 01 04 could begin an answer of unit 0 that is one byte longer than all of this.
    guard = asked(Question(unit=1, function=4, address=0, count=1))
    assert guard.hear(b"\0" + sealed("01 04 02 0141"), 0.1) is None
    assert guard.rest(0.12) == Answer(raw("0141"))


@pytest.mark.parametrize("noise", ["00", "FF FF"])
def test_noise_behind_an_answer_does_no_harm(noise):
    guard = asked(holding())
    assert guard.hear(raw("01 03 02 01 41 79 E4") + raw(noise), 0.1) == Answer(raw("0141"))
    guard.ask(holding(), 0.2)
    assert kinds(guard) == [Failure.NOISE]
    assert guard.hear(raw("01 03 02 01 41 79 E4"), 0.3) == Answer(raw("0141"))


def test_an_answer_inside_another_units_answer_is_none():
    guard = asked(holding())
    inner = sealed("01 03 02 01 41")
    outer = sealed("02 03 " + f"{len(inner) + 1:02X}" + inner.hex() + "00")
    assert guard.hear(outer, 0.1) is None
    assert guard.give_up(1.0).failure is Failure.FOREIGN_UNIT


def test_an_answer_inside_an_unfinished_answer_is_none_until_the_line_rests():
    guard = asked(holding())
    inner = sealed("01 03 02 01 41")
    outer = sealed("02 03 0A" + inner.hex() + "00 00 00")
    assert guard.hear(outer[:12], 0.1) is None
    assert guard.rest(0.12) is None
    assert guard.hear(outer[12:], 0.13) is None
    assert guard.give_up(1.0).failure is Failure.FOREIGN_UNIT


def test_an_answer_with_a_turned_bit_is_a_bad_checksum():
    guard = asked(holding())
    assert guard.hear(raw("01 03 02 01 43 79 E4"), 0.1) is None
    verdict = guard.rest(0.12)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.CHECKSUM
    assert verdict.raw == raw("01 03 02 01 43 79 E4")
    # It did come: the next question need not wait for another.
    assert guard.owed(1) == frozenset()


def test_a_busy_exception_is_a_refusal():
    assert asked(holding()).hear(raw("01 83 06 C1 32"), 0.1) == Refusal(6)


def test_two_different_answers_in_one_go_are_both_refused():
    verdict = asked(holding()).hear(sealed("01 03 02 0001") + sealed("01 03 02 0002"), 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.TWO_ANSWERS


def test_an_answer_sent_twice_is_one_answer_and_owes_nothing():
    guard = asked(holding())
    assert guard.hear(sealed("01 03 02 0001"), 0.1) == Answer(raw("0001"))
    assert guard.hear(sealed("01 03 02 0001"), 0.11) is None
    assert kinds(guard) == [Failure.UNASKED]
    assert guard.owed(1) == frozenset()


def test_a_unit_that_answers_unasked_is_a_step_behind_and_must_prove_itself():
    guard = asked(holding(0))
    guard.hear(sealed("01 03 02 0001"), 0.1)
    assert guard.hear(sealed("01 03 02 0002"), 0.2) is None
    assert guard.owing_since(1) == 0.2
    assert guard.is_confusable(holding(9))


def test_another_masters_question_is_told():
    guard = asked(holding())
    assert guard.hear(sealed("07 03 0000 0002"), 0.1) is None
    assert guard.give_up(1.0).text == "another master asks unit 7 on this line"
    guard.ask(holding(), 10.0)
    verdict = guard.hear(sealed("01 03 0040 0002"), 10.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.OTHER_MASTER


@pytest.mark.parametrize(
    "babble", [b"HTTP/1.0 400 Bad Request\r\n", b"login: ", bytes(range(200, 255))]
)
def test_babble_without_any_sound_frame_is_told(babble):
    guard = asked(holding())
    assert guard.hear(babble, 0.1) is None
    broken = guard.give_up(1.0)
    expected = Failure.NOT_MODBUS if len(babble) >= 8 else Failure.NOISE
    assert broken.failure is expected
    assert broken.raw == babble[:64]


def test_endless_babble_is_not_kept():
    guard = asked(holding())
    for _ in range(1000):
        guard.hear(bytes(range(256)), 0.1)
    assert len(guard._buffer) <= 1024
    assert len(guard.strays) <= 64


def test_a_new_connection_is_to_the_same_line_and_changes_no_debt():
    guard = asked(holding())
    guard.give_up(1.0)
    guard.reset(1.0)
    assert guard.is_confusable(holding(7))
    guard.forgive(1, 1.0)
    assert guard.is_confusable(holding(7))
    guard.forgive(1, 1.1)
    assert not guard.is_confusable(holding(7))


def test_a_question_whose_connection_ended_may_be_answered_on_the_next_one():
    guard = asked(holding())
    guard.reset(1.0)
    assert guard.is_confusable(holding(7))
    # The same question may be repeated: a late answer to it is an answer to it.
    guard.ask(holding(), 1.1)
    assert guard.hear(sealed("01 03 02 0001"), 1.2) == Answer(raw("0001"))
    # But one more answer may be on its way.
    assert guard.is_confusable(holding(7))


def test_blocks_that_only_their_order_tells_apart_are_known():
    guard = asked(holding(0, 2))
    guard.hear(sealed("01 03 04 0001 0002"), 0.1)
    assert guard.follows_alike(holding(10, 2))
    assert not guard.follows_alike(holding(0, 2))
    assert not guard.follows_alike(holding(10, 3))
    assert not guard.follows_alike(holding(10, 2, unit=2))

"""What may pass for an answer on a Modbus TCP connection, and what may not."""

import tomllib
from pathlib import Path

import pytest

from linewatch.drivers.modbus.mbap import LONGEST, MbapGuard
from linewatch.drivers.modbus.question import (
    EXCEPTION,
    MOST_BITS,
    MOST_REGISTERS,
    Answer,
    Broken,
    Failure,
    Identity,
    Question,
    Refusal,
)
from linewatch.drivers.modbus.wire import DEFAULT_PORT


def raw(text: str) -> bytes:
    return bytes.fromhex(text.replace(" ", ""))


def holding(address: int = 0, count: int = 1, *, unit: int = 1, **rest) -> Question:
    return Question(unit=unit, function=3, address=address, count=count, **rest)


def asked(question: Question, number: int = 1) -> MbapGuard:
    """A guard whose outstanding question carries the given transaction number."""
    guard = MbapGuard()
    for _ in range(number - 1):
        guard.ask(holding(), 0.0)
        guard.give_up(0.0)
    guard.ask(question, 0.0)
    guard.strays.clear()
    return guard


def kinds(guard: MbapGuard) -> list[Failure]:
    return [stray.failure for stray in guard.strays]


def test_a_request_is_framed_as_the_guide_says():
    # MODBUS Application Protocol V1.1b3, 6.3: read holding registers 108 to 110.
    guard = MbapGuard()
    assert guard.ask(holding(0x6B, 3, unit=0x11), 0.0) == raw("0001 0000 0006 11 03 006B 0003")


def test_the_answer_is_the_bytes_of_its_values():
    guard = asked(holding(0x6B, 3))
    # The example of the specification, 6.3: registers hold 555, 0 and 100.
    verdict = guard.hear(raw("0001 0000 0009 01 03 06 022B 0000 0064"), 0.1)
    assert verdict == Answer(raw("022B 0000 0064"))


def test_a_late_answer_with_id_zero_is_not_taken_for_the_next_one():
    guard = MbapGuard()
    first = holding(0, identity=Identity.ZERO)
    assert guard.ask(first, 0.0) == raw("00 01 00 00 00 06 01 03 00 00 00 01")
    guard.give_up(1.0)
    # Both blocks have one register, so nothing but the connection tells them apart.
    second = holding(100, identity=Identity.ZERO)
    assert guard.is_confusable(second)
    # Its late answer, once it has come, settles that.
    assert guard.hear(raw("00 00 00 00 00 05 01 03 02 11 11"), 1.1) is None
    assert kinds(guard) == [Failure.LATE]
    assert not guard.is_confusable(second)
    assert guard.ask(second, 1.2) == raw("00 02 00 00 00 06 01 03 00 64 00 01")
    assert guard.hear(raw("00 00 00 00 00 05 01 03 02 22 22"), 1.3) == Answer(raw("2222"))


def test_an_answer_of_another_length_proves_that_nothing_older_is_to_come():
    guard = MbapGuard()
    guard.ask(holding(0, 4, identity=Identity.ZERO), 0.0)
    guard.give_up(1.0)
    proof = holding(0, 3, identity=Identity.ZERO)
    assert not guard.is_confusable(proof)
    guard.ask(proof, 2.0)
    # The late answer comes first and is told by its length.
    assert guard.hear(raw("0000 0000 000B 01 03 08 1111 1111 1111 1111"), 2.1) is None
    answer = guard.hear(raw("0000 0000 0009 01 03 06 2222 2222 2222"), 2.2)
    assert answer == Answer(raw("2222 2222 2222"))
    assert guard.owed(1) == frozenset()


def test_a_new_connection_owes_nothing():
    guard = MbapGuard()
    guard.ask(holding(identity=Identity.ZERO), 0.0)
    guard.give_up(1.0)
    guard.reset(1.0)
    assert not guard.is_confusable(holding(7, identity=Identity.ZERO))


def test_zero_is_a_foreign_id_unless_the_device_is_known_for_it():
    guard = asked(holding())
    assert guard.hear(raw("00 00 00 00 00 05 01 03 02 11 11"), 0.1) is None
    broken = guard.give_up(1.0)
    assert broken.failure is Failure.FOREIGN_ID
    assert "answers carry a foreign id" in broken.text
    assert "zero_transaction" in broken.text
    assert broken.raw == raw("00 00 00 00 00 05 01 03 02 11 11")


def test_a_swapped_id_is_foreign_unless_the_device_is_known_for_it():
    swapped = raw("01 00 00 00 00 05 01 03 02 00 4D")
    guard = asked(holding())
    assert guard.hear(swapped, 0.1) is None
    assert "swapped_transaction" in guard.give_up(1.0).text

    told = asked(holding(identity=Identity.SWAPPED))
    assert told.hear(swapped, 0.1) == Answer(raw("004D"))


def test_a_device_that_swaps_ids_does_not_answer_with_straight_ones():
    guard = asked(holding(identity=Identity.SWAPPED))
    assert guard.hear(raw("00 01 00 00 00 05 01 03 02 00 4D"), 0.1) is None


def test_a_stale_answer_glued_in_front_is_dropped():
    guard = asked(holding(), 0x10)
    glued = raw("00 0F 00 00 00 05 01 03 02 00 01 00 10 00 00 00 05 01 03 02 00 02")
    assert guard.hear(glued, 0.1) == Answer(raw("0002"))
    assert kinds(guard) == [Failure.LATE]


def test_an_answer_behind_the_right_one_is_dropped_too():
    guard = asked(holding(), 0x10)
    glued = raw("00 10 00 00 00 05 01 03 02 00 02 00 0F 00 00 00 05 01 03 02 00 01")
    assert guard.hear(glued, 0.1) == Answer(raw("0002"))


@pytest.mark.parametrize(
    ("reply", "words"),
    [
        ("00 01 00 00 00 05 01 04 02 12 34", "03 was asked, 04 answers"),
        ("00 01 00 00 00 06 01 10 00 00 00 01", "03 was asked, 10 answers"),
        ("00 01 00 00 00 03 01 84 02", "03 was asked, 84 answers"),
        ("00 01 00 00 00 04 01 01 01 01", "03 was asked, 01 answers"),
        ("00 01 00 00 00 05 01 2B 0E 01 01", "03 was asked, 2B answers"),
    ],
)
def test_another_function_is_no_answer(reply, words):
    verdict = asked(holding()).hear(raw(reply), 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.WRONG_FUNCTION
    assert words in verdict.text
    assert verdict.raw == raw(reply)


@pytest.mark.parametrize(
    "reply",
    [
        "00 01 00 00 00 05 01 03 02 00 2A",
        "00 01 00 00 00 03 01 03 00",
        # The count says what was asked, the frame holds less; and the other way round.
        "00 01 00 00 00 05 01 03 08 00 2A",
        "00 01 00 00 00 0B 01 03 02 00 2A 00 2B 00 2C 00 2D",
        # One register too many, and an odd byte.
        "00 01 00 00 00 0D 01 03 0A 00 01 00 02 00 03 00 04 00 05",
        "00 01 00 00 00 0A 01 03 07 00 01 00 02 00 03 00",
        # A function and nothing else.
        "00 01 00 00 00 02 01 03",
        # An exception with a tail.
        "00 01 00 00 00 04 01 83 02 00",
    ],
)
def test_another_count_is_no_answer(reply):
    verdict = asked(holding(0, 4)).hear(raw(reply), 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.WRONG_COUNT


@pytest.mark.parametrize("unit", [0x00, 0xFF, 0x01, 0x12])
def test_another_unit_is_no_answer_and_both_are_named(unit):
    verdict = asked(holding(unit=0x11)).hear(
        raw("00 01 00 00 00 05") + bytes([unit]) + raw("03 02 00 07"), 0.1
    )
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.FOREIGN_UNIT
    assert verdict.text == f"unit 17 was asked, unit {unit} answers"


def test_a_device_known_to_answer_as_another_unit_is_believed():
    guard = asked(holding(unit=0x11, answers_as=255))
    assert guard.hear(raw("00 01 00 00 00 05 FF 03 02 00 07"), 0.1) == Answer(raw("0007"))
    guard.ask(holding(unit=0x11, answers_as=255), 0.2)
    assert isinstance(guard.hear(raw("00 02 00 00 00 05 11 03 02 00 07"), 0.3), Broken)


def test_an_answer_in_single_bytes_is_one_answer():
    guard = asked(holding(0, 2))
    verdicts = [
        guard.hear(bytes([byte]), 0.01 * place)
        for place, byte in enumerate(raw("00 01 00 00 00 07 01 03 04 00 07 00 08"))
    ]
    assert verdicts[:-1] == [None] * 12
    assert verdicts[-1] == Answer(raw("0007 0008"))


@pytest.mark.parametrize(
    "babble",
    [
        "00 01 00 01 00 05 01 03 02 00 01",
        b"HTTP/1.0 400 Bad Request".hex(),
        "00 01 00 00 FF FF 01 03 02 00 01",
        "00 01 00 00 00 01 01",
        "00 01 00 00 00 00 01",
        "00 01 00 00 00 FF 01 03 02 00 01",
        b"SSH-2.0-x\r\n".hex(),
        # RTU over TCP where Modbus TCP was expected: answer and request of section 6.3.
        "01 03 06 02 2B 00 00 00 64 05 7A",
    ],
)
def test_what_is_not_modbus_is_told(babble):
    verdict = asked(holding()).hear(raw(babble), 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.NOT_MODBUS


def test_babble_between_questions_is_noted():
    guard = MbapGuard()
    assert guard.hear(b"220 ready\r\n", 0.0) is None
    assert kinds(guard) == [Failure.NOT_MODBUS]


@pytest.mark.parametrize("reply", ["00 02 00 00 00 02 01 84 02", "00 02 00 00 00 03 01 84 02"])
def test_an_exception_is_one_even_if_its_length_forgets_the_code(reply):
    guard = asked(Question(unit=1, function=4, address=0, count=1), 2)
    assert guard.hear(raw(reply), 0.1) == Refusal(2)


def test_an_echoing_port_is_no_device_even_where_the_echo_has_an_answers_shape():
    # 17 coils from 0x0310 make a request whose own bytes read as an answer of three bytes.
    guard = MbapGuard()
    request = guard.ask(Question(unit=1, function=1, address=0x0310, count=17), 0.0)
    assert request[7:9] == raw("01 03")
    assert guard.hear(request, 0.1) is None
    assert guard.give_up(1.0).failure is Failure.ECHO


def test_two_different_answers_with_the_right_id_are_both_refused():
    glued = raw("00 01 00 00 00 05 01 03 02 00 01 00 01 00 00 00 05 01 03 02 00 02")
    verdict = asked(holding()).hear(glued, 0.1)
    assert isinstance(verdict, Broken)
    assert verdict.failure is Failure.TWO_ANSWERS


def test_the_same_answer_twice_is_one_answer():
    once = raw("00 01 00 00 00 05 01 03 02 00 01")
    guard = asked(holding())
    assert guard.hear(once + once, 0.1) == Answer(raw("0001"))
    assert kinds(guard) == [Failure.UNASKED]


def test_an_answer_that_nobody_asked_for_is_noted_and_forgotten():
    guard = MbapGuard()
    assert guard.hear(raw("00 07 00 00 00 05 01 03 02 00 01"), 0.0) is None
    assert kinds(guard) == [Failure.UNASKED]


def test_a_late_answer_tells_how_late_it_was():
    guard = MbapGuard()
    guard.ask(holding(), 10.0)
    guard.give_up(11.0)
    guard.ask(holding(), 11.0)
    guard.hear(raw("00 01 00 00 00 05 01 03 02 00 01"), 11.2)
    (stray,) = guard.strays
    assert stray.failure is Failure.LATE
    assert stray.late_s == pytest.approx(1.2)
    assert stray.unit == 1


def test_a_number_comes_again_only_after_all_others_and_never_as_zero():
    guard = MbapGuard()
    numbers = []
    for _ in range(65537):
        numbers.append(int.from_bytes(guard.ask(holding(), 0.0)[:2], "big"))
        guard.give_up(0.0)
    assert sorted(numbers[:65535]) == list(range(1, 65536))
    assert numbers[65535:] == [1, 2]


def test_one_question_at_a_time():
    guard = asked(holding())
    with pytest.raises(ValueError, match="one question at a time"):
        guard.ask(holding(), 0.0)
    guard.give_up(1.0)
    with pytest.raises(ValueError, match="no question is outstanding"):
        guard.give_up(1.0)


@pytest.mark.parametrize("function", [0, 5, 6, 15, 16, 22, 23, 43, 0x83])
def test_a_question_that_does_not_read_cannot_be_written_down(function):
    with pytest.raises(ValueError, match="does not read"):
        Question(unit=1, function=function, address=0, count=1)


@pytest.mark.parametrize(
    ("function", "address", "count"),
    [(3, 0, 0), (3, 0, 126), (1, 0, 2001), (3, 65535, 2), (4, -1, 1)],
)
def test_a_question_stays_within_the_protocol(function, address, count):
    with pytest.raises(ValueError, match=r"count is|pass the table's end"):
        Question(unit=1, function=function, address=address, count=count)


def test_the_largest_requests_are_the_specifications():
    checks = {
        row["id"]: row["value"]
        for row in tomllib.loads(
            (Path(__file__).parents[2] / "data" / "check_values.toml").read_text()
        )["check"]
    }
    assert checks["modbus.max.read_regs"] == MOST_REGISTERS
    assert checks["modbus.max.read_bits"] == MOST_BITS
    assert checks["modbus.exc_bit"] == EXCEPTION
    assert checks["modbus.port"] == DEFAULT_PORT
    # The longest PDU behind a unit id is the longest length that a header can tell.
    assert checks["modbus.pdu"] + 1 == LONGEST

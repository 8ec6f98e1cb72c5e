"""Held against what the C library itself counts: mallinfo2(3)."""

import json
import subprocess
import sys

import pytest

PROGRAM = """
import ctypes, json, sys
from linewatch.wiring.allocation import APART_BYTES, keep_large_pieces_apart

class Counted(ctypes.Structure):
    names = "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost"
    _fields_ = [(name, ctypes.c_size_t) for name in names.split()]

count = ctypes.CDLL(None).mallinfo2
count.restype = Counted
if sys.argv[1] == "apart":
    keep_large_pieces_apart(300)
# Let go, it raises the size from which on a piece has room of its own.
large = bytearray(20_000_000)
del large
before = count().hblkhd
piece = bytearray(4 * APART_BYTES)
held = count().hblkhd - before
del piece
print(json.dumps([held, count().hblkhd - before]))
"""


@pytest.mark.parametrize(("how", "is_apart"), [("apart", True), ("as usual", False)])
def test_a_large_piece_has_room_of_its_own_and_gives_it_back(how, is_apart):
    said = subprocess.run(
        [sys.executable, "-c", PROGRAM, how], check=True, capture_output=True, text=True
    ).stdout
    held, left = json.loads(said)

    assert (held >= 4 * 64 * 1024) is is_apart
    assert left == 0

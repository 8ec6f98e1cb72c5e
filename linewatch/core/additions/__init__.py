"""What is owed to each bath: additives by a balance, metal by conservation, water by level.

`balance` is the account of one additive, `counting` the charge, loads and time that it accrues
from, `doubts` what speaks against a dose, `metal` and `water` the solution itself. All of it is
pure; `core/line/additions.py` feeds it from the line.
"""

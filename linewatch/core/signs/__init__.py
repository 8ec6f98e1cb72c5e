"""What several signals tell together, where no limit on one of them would.

sign    what a sign is, and what it may look at
table   every sign: one row and one pure function each

The study that looks for them is core/line/signs.py.
"""

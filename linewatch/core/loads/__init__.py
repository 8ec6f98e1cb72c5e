"""A load's way through the line, what is odd about it, and its record.

travel    the steps of a route, followed: what was left out, too short, too long
bake      the relief bake that a steel asks for
classes   what a published designation asks for
record    a load's record, put together from what was told of it
why       why each of its figures is what it is
"""

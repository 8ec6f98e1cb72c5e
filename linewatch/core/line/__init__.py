"""The line as a machine: readings, orders and time go in, events come out.

machine    the machine itself
watch      one layout as it was read last, with its conditions
counting   the rectifiers and what their counting tells
metal      metal in each tank
positions  what the line, its tracks and its positions are doing
orders     what people ask
picture    the line as one frozen picture
memory     how its memory stands in bytes
"""

from linewatch.core.line.machine import Line

__all__ = ["Line"]

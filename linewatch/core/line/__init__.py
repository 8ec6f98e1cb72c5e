"""The line as a machine: readings, orders and time go in, events come out.

machine      the machine itself
watch        one layout as it was read last
judging      the conditions of one layout
counting     the rectifiers and what their counting tells
metal        metal in each tank
growth       a load's thickness, and when to pull it
hearing      what signals tell, and what that makes expected
positions    what the line, its tracks and its positions are doing
overdue      loads past their longest dwell, checks that nobody made
hands        values that people typed in
orders       what people ask
picture      the line as one frozen picture
alarms_seen  its alarms, with what explains them and what is read now
quiet        how long nothing but values and charge changes
remembering  what it keeps beyond a restart
memory       how that stands in bytes
"""

from linewatch.core.line.machine import Line

__all__ = ["Line"]

"""The rule library: what goes wrong on lines, told by the signals of one position.

rule        what a rule is, and what it may look at
gauges      the small models that rules share: slopes, samples, habits
heat        heaters, probes, cooling, ovens
liquid      levels, rinses, filters
current     rectifiers, contacts, barrels
output      units that bring too little current, or none
cyanide     acid where there is cyanide
treatment   waste water and extraction
library     all rules in one table, and which positions each may watch

The study that looks by them is core/line/rules.py; moves of loads are in core/line/moves.py.
"""

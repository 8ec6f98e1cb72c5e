"""What an instrument's signal means: resistance, thermoelectric voltage, loop current.

`rtd` platinum resistance thermometers · `thermocouple` voltages and cold junctions ·
`loop` the 4-20 mA signal with its fault limits · `ph` the slope of an ideal electrode.
"""

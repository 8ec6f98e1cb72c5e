"""linewatch watches an electroplating line live from a terminal.

Read the folders in alphabetical order: `config → core → drivers → engine → history → ui`
is the path a value takes from the plant to the eye. `wiring` is the only place where the
shells meet, `cli` the only place where the command line is known.
"""

__version__ = "0.1.0"

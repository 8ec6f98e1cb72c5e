"""The command line.

Each command imports only what it needs: a desk calculator must not wait
for a screen, nor a screen for a database.
"""

from __future__ import annotations

import os
import sys

from cyclopts import App, CycloptsError

from linewatch import __version__
from linewatch.cli.seven_bits import carry_every_sign
from linewatch.core.errors import LinewatchError, file_words

app = App(
    name="linewatch",
    help=(
        "Watch an electroplating line live from a terminal. It watches; it never acts. Where"
        " the terminal's encoding lacks signs, all is shown in seven bits; `plain = true` in"
        " screen.toml wants that of the screen everywhere."
    ),
    version=__version__,
)
load = App(name="load", help="What a load received; its card, bake, findings and decision.")
app.command(load)
lab = App(name="lab", help="What the laboratory found, what is due, and its control charts.")
app.command(lab)
discharge = App(name="discharge", help="What was let go: an inspector's page of any day.")
app.command(discharge)
duty = App(name="duty", help="What is due from time to time: analyses, filters, probes.")
app.command(duty)
sheet = App(name="sheet", help="The shift's check sheet: filled from the signals, and by hand.")
app.command(sheet)
notice = App(name="notices", help="Who is told of alarms outside the screen, and how.")
app.command(notice)


def main() -> None:
    """Run the command line; what a person can mend is told in a sentence, never a traceback."""
    carry_every_sign(sys.stdout, sys.stderr)
    # The commands register themselves with `app`.
    from linewatch.cli import (
        check,
        commission,
        laboratory,
        loads,
        record,
        rinses,
        rules,
        run,
        sheets,
        typed,
    )
    from linewatch.cli import notices as telling

    _ = (check, commission, laboratory, loads, record, rinses, run, rules, sheets, telling)
    try:
        code = app(sys.argv[1:], exit_on_error=False, print_error=False)
    except CycloptsError as error:
        print(f"linewatch: {typed.fault(error)}", file=sys.stderr)
        code = 1
    except LinewatchError as error:
        print(f"linewatch: {error}", file=sys.stderr)
        code = 1
    except KeyboardInterrupt:
        code = 130
    except BrokenPipeError:
        # The reader of our output went away; what is left in the buffer has no reader either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    except OSError as error:
        # What a command made of a file or a socket, and nobody named further down.
        about = f"{error.filename}: " if error.filename else ""
        print(f"linewatch: {about}{file_words(error)}", file=sys.stderr)
        code = 1
    sys.exit(code)

"""What serves the lines: water treatment, extraction and scrubber, water supply.

Each part is a small model with knobs (what may go wrong), a slow step, and `told`: what its
instruments could see, by name.
"""

from linewatch_sim.utilities.air import Air
from linewatch_sim.utilities.together import Utilities
from linewatch_sim.utilities.treatment import Treatment
from linewatch_sim.utilities.water import Water

__all__ = ["Air", "Treatment", "Utilities", "Water"]

"""What serves the lines: water treatment, extraction and scrubber, water supply.

Each is a small model with a slow step and `told`: what there is to see, by name. `Utilities`
is all of them as one part of a plant, with what may be wrong and the noise of instruments.
"""

from linewatch_sim.utilities.air import Air
from linewatch_sim.utilities.together import Utilities
from linewatch_sim.utilities.treatment import Treatment
from linewatch_sim.utilities.water import Water

__all__ = ["Air", "Treatment", "Utilities", "Water"]

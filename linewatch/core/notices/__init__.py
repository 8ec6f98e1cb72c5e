"""Who is told of which alarm outside the screen, and when. Pure: events in, notices out."""

from linewatch.core.notices.planning import Notice, Planner
from linewatch.core.notices.ways import Quiet, Way

__all__ = ["Notice", "Planner", "Quiet", "Way"]

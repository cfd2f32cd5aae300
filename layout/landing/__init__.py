"""Where turns arrive: measuring a drawn landing and judging it.

The landing is judged as a plane fitted to the ground inside its outline, and by
what lies round it. Nothing is said of what the files do not hold: buried lines
or the view along the road stay unknown until someone has looked.
"""

from layout.landing.judging import check, check_run_in
from layout.landing.measures import Plane, measure, measured, plane_of
from layout.landing.room_checks import run_in_m

__all__ = ["Plane", "check", "check_run_in", "measure", "measured", "plane_of", "run_in_m"]

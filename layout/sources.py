"""The one list of published sources; code, settings and reports cite from here.

A source that was not read itself, but remembered, carries ``confirmed=False``
and says so wherever it is printed.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """One publication, and the place in it where the numbers stand.

    Parameters
    ----------
    author, title, dated, place : str
        Who, what, when, and where in it.
    confirmed : bool
        False where the passage itself was not read.
    """

    author: str
    title: str
    dated: str
    place: str
    confirmed: bool = True

    def __str__(self) -> str:
        """Read as one line, for messages and report footnotes."""
        words = f"{self.author}, {self.title} ({self.dated}), {self.place}"
        return words if self.confirmed else f"{words} [unverified]"


COMMON_PRACTICE = "common practice, no source"

WATER_BARS = Source(
    author="Southern Regional Extension Forestry",
    title="online handbook, Watershed Management",
    dated="page as of 2012-08-30",
    place="table 'Distances Between Water Bars'",
)
BAR_PLACES = Source(
    author="Ernst, Indiana DNR Forestry",
    title="Best Management Practices brochure",
    dated="2004",
    place="water bars before riparian zones and crossings, at landing exits, at shutdown",
)
BAR_SKEW = Source(
    author="University of Maine",
    title="Demonstration forest, water bars",
    dated="undated",
    place="30 degrees across the trail, both ends beyond the trail's edges",
)
SOIL_LIMIT = Source(
    author="USDA Forest Service",
    title="Forest Service Manual 2550, Region 1 supplement 2500-2014-1",
    dated="2014",
    place="detrimental disturbance on at most 15 % of the activity area",
    confirmed=False,
)
SOIL_AIM = Source(
    author="Garland, Oregon State University Extension",
    title="Designated skid trails, EC 1110",
    dated="1983",
    place="trails on 10 to 15 % of the area",
    confirmed=False,
)
SOIL_CLASSES = Source(
    author="Page-Dumroese, Abbott & Rice, USDA Forest Service",
    title="Forest Soil Disturbance Monitoring Protocol, GTR WO-82a",
    dated="2009",
    place="visual disturbance classes 0 to 3",
    confirmed=False,
)

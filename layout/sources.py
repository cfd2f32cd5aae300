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
SWEEPING_TANGENTS = Source(
    author="Apostol and Mnatsakanian",
    title="The method of sweeping tangents, The Mathematical Gazette",
    dated="2008",
    place="section I, ground between the tracks of a bar drawn along (an excerpt was read)",
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
CLOSING = Source(
    author="Indiana DNR Forestry; State of Oregon",
    title="best management practices pages; OAR 629-630, harvesting",
    dated="undated",
    place="crossings removed right after use; water led round the landing onto forest floor",
)
BAR_WITH_BRUSH = Source(
    author="Solgi and others, Croatian Journal of Forest Engineering 40(2)",
    title="water bars with and without brush on skid trails",
    dated="2019",
    place="soil loss 8.49 g/m2 with bars alone, 4.50 with hardwood and 2.98 with softwood brush",
)
WATERBREAKS = Source(
    author="California Code of Regulations",
    title="Title 14, section 934.6(e), Northern Forest District",
    dated="undated",
    place="largest distance between waterbreaks by erosion hazard; a rule there, check local rule",
)
DIPS = Source(
    author="Hewlett & Douglass and others, USDA Forest Service",
    title="broad-based dips",
    dated="1968",
    place="spacing 400 / grade + 100 ft; limits of grade from two states' practices",
    confirmed=False,
)
CROSSING_BARS = Source(
    author="several state best management practices",
    title="approaches to stream crossings",
    dated="undated",
    place="water bar 25 to 50 ft back from the bank",
    confirmed=False,
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

# Trails, winching and landings: what the checks of a layout cite.
TRAIL_GRADE = Source(
    author="Indiana Department of Natural Resources",
    title="Skid Trails, best management practices page",
    dated="undated",
    place="avoid long grades over 20 %; steeper only for short distances",
)
TRAIL_PITCH = Source(
    author="several state forestry agencies",
    title="best management practices for skid trails",
    dated="undated",
    place="short pitches of 20 to 25 %, then a break",
    confirmed=False,
)
TRAIL_DRAINS = Source(
    author="several state forestry agencies",
    title="best management practices for skid trails",
    dated="undated",
    place="least grade of 2 to 3 %, so that the trail drains",
    confirmed=False,
)
FARM_TRACTOR_SLOPES = Source(
    author="extension and FAO practice",
    title="working slopes of farm tractors with a load",
    dated="undated",
    place="uphill loaded 10 %, 15 to 20 % for short; cross slope 10 %, 15 to 20 % at most",
    confirmed=False,
)
FALL_LINE = Source(
    author="State of Oregon",
    title="OAR 629-630-0150, ground-based harvesting on steep slopes",
    dated="undated",
    place="never straight up and down for over 100 ft; half the side slope is trail practice",
)
TURNAROUNDS = Source(
    author="State of Washington",
    title="WAC 296-54-57350, skidding with tractors",
    dated="undated",
    place="subsection (4), turnarounds every 500 ft where needed",
)
CROSSING_ANGLE = Source(
    author="Indiana Department of Natural Resources",
    title="stream crossings, best management practices",
    dated="undated",
    place="cross at right angles; the tolerance of 15 degrees is ours",
)
CROSSING_APPROACH = Source(
    author="several state forestry agencies",
    title="best management practices for stream crossings",
    dated="undated",
    place="approach grade of 10 % at most for 50 ft on each side",
    confirmed=False,
)
CROSSING_COUNT = Source(
    author="States of Oregon and Montana",
    title="OAR 629-630-0800, stream crossings; ARM 36.11.304(3), dry crossings of class 3 streams",
    dated="undated",
    place="as few crossings as can be; about 200 ft apart",
)
CROSSING_REMOVED = Source(
    author="Indiana Department of Natural Resources; State of Oregon",
    title="stream crossings, best management practices; OAR 629-630-0800",
    dated="undated",
    place="temporary crossings are taken out right after use",
)
LOAD_ABOVE = Source(
    author="Agricultural Chamber of Vorarlberg",
    title="winch and trailer safety page",
    dated="undated",
    place="tractor and winch never in the fall line below the load; the 10 and 20 % are ours",
)
TWO_TREE_LENGTHS = Source(
    author="US Occupational Safety and Health Administration",
    title="29 CFR 1910.266",
    dated="undated",
    place="(h)(1)(vi), no work within two tree lengths of a danger tree",
)
FELLING_DISTANCE = Source(
    author="US Occupational Safety and Health Administration",
    title="29 CFR 1910.266",
    dated="undated",
    place="(d)(6)(ii) and (h)(1), people and yarding machines two tree lengths from felling",
)
FELLING_LEAD = Source(
    author="Ontario Woodlot Association",
    title="careful logging guide",
    dated="undated",
    place="branchy trees are felled away from the winch; the 45 degrees are from memory",
    confirmed=False,
)
LEAVE_DAMAGE = Source(
    author="University of New Hampshire Extension",
    title="Good Forestry in the Granite State",
    dated="undated",
    place="section 5.4, skilled crews damage at most 10 % of leave trees, others 20 to 40 %",
)
WINCH_DAMAGE = Source(
    author="Journal of Forest Science 61:526-534",
    title="damage to the stand that stays, by length of what is skidded",
    dated="2015",
    place="winch strips: 12 % of standing trees with whole stems, 28 % with short logs",
)
DAMAGE_ZONE = Source(
    author="Han & Kellogg, Oregon State University",
    title="Damage characteristics in young Douglas-fir",
    dated="undated",
    place="damaged trees lie within 15 ft of the trail's centre line",
)
RUB_TREES = Source(
    author="Ostrofsky, Maine Forest Service",
    title="bumper trees along trails",
    dated="undated",
    place="sacrificial trees are named before the harvest and cut when it is done",
)
LANDING_SLOPE = Source(
    author="Louisiana State University AgCenter",
    title="Landings, Log Decks and Sets",
    dated="undated",
    place="slight slope under 5 %; the caution to 8 % is ours",
)
LANDING_WATER = Source(
    author="state BMP training site",
    title="Harvesting page",
    dated="undated",
    place="landing at least 50 ft outside any streamside zone",
)
LANDING_GROUND = Source(
    author="Indiana Department of Natural Resources",
    title="Planning log landings",
    dated="undated",
    place="well-drained soil, no seeps or sinkholes; utilities and sight on the road checked",
)
TRUCK_GRADE = Source(
    author="State of Vermont",
    title="Acceptable Management Practices",
    dated="1987, booklet",
    place="AMP 1, over 10 % for at most 300 ft",
)
TRUCK_TURNING = Source(
    author="truck and logging practice",
    title="least turning radius of a log truck",
    dated="undated",
    place="50 ft centre line, 60 to 75 ft with a trailer",
    confirmed=False,
)

# Winch, rope and crew: what the settings of an area are held against.
ROPE_STRENGTH = Source(
    author="a German winch page",
    title="safe use of winches",
    dated="undated",
    place="rope of at least twice the winch's pull; ISO 19472 says the same from memory",
)
WINCH_OUTFIT = Source(
    author="Landwirtschaftskammer Burgenland",
    title="Die Seilwinde",
    dated="undated",
    place="10 kW for a tonne of pull; load at most two thirds of tractor and winch",
)
SNATCH_ANCHOR = Source(
    author="forest winch safety pages",
    title="redirect blocks",
    dated="undated",
    place="anchor tree of about 50 cm at 80 kN; scaled in proportion by us",
)
LONE_WORK = Source(
    author="US Occupational Safety and Health Administration",
    title="29 CFR 1910.266",
    dated="undated",
    place="within visual or audible contact of another person",
)
CHOKER_WORK = Source(
    author="US Occupational Safety and Health Administration",
    title="29 CFR 1910.266 (h)(5)",
    dated="undated",
    place="(i), (ii) and (v): chokers from the uphill side or end, logs chocked, signals",
)
BESIDE_WINCH = Source(
    author="Bavarian forest-owner school; German accident insurance",
    title="handling of forest winches; DGUV Information 214-046",
    dated="undated",
    place="operator about 5 m to the side of a mechanical winch; section 8.1 on who stands where",
)
WALK_BEHIND = Source(
    author="SVLFG, the insurer of farm and forest work in Germany",
    title="notice to walk behind the load",
    dated="undated",
    place="says that some manuals show the operator's place wrong",
)
ROPE_RADIUS = Source(
    author="forest winch pages",
    title="ground kept clear round a tight rope",
    dated="undated",
    place="1.5 times the rope in one, 1.5 times the log in another; the larger is taken",
    confirmed=False,
)
FRONT_AXLE = Source(
    author="a maker of implements",
    title="page on ballast for tractors",
    dated="undated",
    place="at least 20 % of the unladen weight on the front axle",
)
STATIC_TIPPING = Source(
    author="Spencer & Gilfillan",
    title="static side slope stability of tractors",
    dated="1976",
    place="static angle an upper limit, to be lessened for rough ground; by how much is ours",
)
SLIDING_LOGS = Source(
    author="Navratil & Skoupy",
    title="resistance of logs sliding on the ground",
    dated="2002",
    place="abstract: a range, not one figure; a safety factor on the critical slope",
)
NEIGHBOUR_TREES = Source(
    author="New York Forest Owners Association",
    title="page on boundaries; a farming magazine on damages",
    dated="undated",
    place="double or treble damages for a neighbour's tree; line trees belong to both",
)
STEM_VOLUME = Source(
    author="Westfall and others, USDA Forest Service",
    title="A national-scale tree volume, biomass, and carbon modeling system, GTR-WO-104",
    dated="2024",
    place="tables S1a, S3a, S4a, S5a; worked example 1 (read in a reprint)",
)
GREEN_WEIGHT = Source(
    author="Miles & Smith, USDA Forest Service",
    title="Specific gravity and other properties of wood and bark, NRS-38",
    dated="2009",
    place="species tables (read as the inventory's reference table carries them)",
)
TREE_BIOMASS = Source(
    author="Jenkins and others, Forest Science 49:12-35",
    title="National-scale biomass estimators for United States tree species",
    dated="2003",
    place="total above-ground dry mass by species group (read in a reprint)",
)
HEIGHT_CURVES = Source(
    author="Wykoff's form",
    title="default height-diameter curves",
    dated="undated",
    place="H = 4.5 + exp(B1 + B2 / (D + 1)); coefficients from memory or ours",
    confirmed=False,
)
BENCH_SHAPE = Source(
    author="ours, after common practice of trail building",
    title="shape of a bench dug into a slope",
    dated="undated",
    place="bank 1:1, fill 1.5:1, cut whole from 30 %, bank 1.5 m (5 ft) high at most",
    confirmed=False,
)

# Logs, trees and the stand: board feet, cubic, stocking and crowns.
INTERNATIONAL_QUARTER = Source(
    author="State of Michigan; Commonwealth of Massachusetts",
    title="Act 208 of 1941 (Compiled Laws 290.401); General Laws chapter 96 section 11A",
    dated="1941 and later",
    place="(0.22 D^2 - 0.71 D) x 0.904762 for 4 ft sections, taper 1/2 inch in 4 ft",
)
INTERNATIONAL_EIGHTH = Source(
    author="Clark, as in Larsen, University of Missouri, Forestry Functions",
    title="International log rule, 1/8-inch kerf",
    dated="1906",
    place="closed forms for 4 to 20 ft (read in a reprint)",
)
DOYLE_RULE = Source(
    author="trade practice, as in Larsen and in a printed table",
    title="Doyle log rule",
    dated="undated",
    place="((D - 4) / 4)^2 L; printed table, 8 to 30 in and 8 to 16 ft",
)
SCRIBNER_FORMULA = Source(
    author="Bruce & Schumacher, as in Larsen",
    title="Forest Mensuration, formula fitted to the Scribner table",
    dated="1950",
    place="(0.79 D^2 - 2 D - 4) L / 16 (read in a reprint)",
)
CUBIC_FORMULAS = Source(
    author="Larsen, University of Missouri",
    title="Forestry Functions, log volume",
    dated="undated",
    place="Smalian and cone read there; Huber and Newton from memory",
)
FORM_CLASS_TABLES = Source(
    author="Mesavage & Girard, USDA Forest Service",
    title="Tables for Estimating Board-foot Volume of Timber",
    dated="1946",
    place="form class 78, cells from memory; the one-log column agrees with the log rules",
    confirmed=False,
)
FORM_CLASS_REGRESSION = Source(
    author="Wiant, Northern Journal of Applied Forestry 3:124",
    title="Formulas for Mesavage and Girard's volume tables",
    dated="1986",
    place="coefficients and three worked examples (read in a reprint)",
)
UPLAND_STOCKING = Source(
    author="Gingrich, Forest Science 13:38-53",
    title="Measuring and evaluating stocking and stand density in upland hardwood forests",
    dated="1967",
    place="percent stocking and the B-line (read in two reprints and a chart's example)",
)
OPEN_GROWN_CROWNS = Source(
    author="Krajicek, Brinkman & Gingrich, Forest Science 7:35-42",
    title="Crown competition, a measure of density",
    dated="1961",
    place="width of open-grown crowns, upland oaks and hickories: 3.12 + 1.829 D feet",
)
MIXED_DENSITY = Source(
    author="Ducey & Knapp, Forest Ecology and Management 260:1613-1622",
    title="A stand density index for complex mixed species forests",
    dated="2010",
    place="relative density from specific gravity (read in two reprints)",
)
CROWN_WIDTHS = Source(
    author="Bechtold, Southern Journal of Applied Forestry 27:269-278",
    title="Crown-diameter prediction models for 87 species of stand-grown trees",
    dated="2003",
    place="form with DBH only, as in a canopy cover data set of the US Forest Service",
)
DE_LIOCOURT = Source(
    author="de Liocourt's quotient, textbook form",
    title="balanced diameter distributions",
    dated="undated",
    place="stems of one diameter class over those of the next larger one",
    confirmed=False,
)
PLOT_SAMPLING = Source(
    author="textbook sampling",
    title="fixed-area plots and angle counts, mean with Student's t",
    dated="undated",
    place="simple random sample of plots; trees per hectare = 1/area, or factor / basal area",
    confirmed=False,
)
WEDGE_LEVER = Source(
    author="Northern Woodlands",
    title="Felling Trees Against the Lean",
    dated="undated",
    place="the stump goes so many times into the height; one inch of lift moves the tip so far",
)
WEDGE_LIMIT = Source(
    author="US Occupational Safety and Health Administration",
    title="logging eTool, felling against the lean",
    dated="undated",
    place="for lean that can be overcome with 2 inches of wedging",
)
REMOVAL_THIRD = Source(
    author="Leak and others, USDA Forest Service",
    title="A silvicultural guide for northern hardwoods, GTR NRS-132",
    dated="2014",
    place="about a third of the basal area at one entry",
    confirmed=False,
)
GAP_RATIO = Source(
    author="silvicultural rule of thumb",
    title="what grows where crowns open, by width over height of the trees round it",
    dated="undated",
    place="under 1/2 shade-bearing kinds, to 1 kinds between, to 2 light-demanding ones",
    confirmed=False,
)

# Times, trucks and a trailer.
SKIDDING_BAND = Source(
    author="Ghaffariyan, Silva Balcanica 23(1):21-36",
    title="An overview of work productivity evaluation of farm tractors in timber skidding",
    dated="2022",
    place="abstract: 1.2 to 15.8 m3 a productive hour among international studies",
)
SKIDDING_LINE = Source(
    author="Zecic, Porsinsky & Susnjar, Sumarski list 128:381-389",
    title="harvesting of hilly stands, a small winch tractor in a beech thinning",
    dated="2004",
    place="summary: 25.06, 28.91 and 32.75 min/m3 at 150, 400 and 650 m; felling 17.86",
)
TRUCK_SIZES = Source(
    author="trade article",
    title="what log trucks carry",
    dated="undated",
    place="tri-axle 18 tons and 7 cords, semi 13 cords; tandem and 25 tons of a semi from memory",
)

# Soil: how fast bare trails wash, and how ground drains.
RUSLE = Source(
    author="Renard, Foster, Weesies, McCool & Yoder, USDA Agriculture Handbook 703",
    title="Predicting soil erosion by water (RUSLE)",
    dated="1997",
    place="slope length and steepness; read in a textbook's copy, constants found on a second page",
)
USLE = Source(
    author="Wischmeier & Smith, USDA Agriculture Handbook 537",
    title="Predicting rainfall erosion losses (USLE)",
    dated="1978",
    place="slope length and steepness; the powers of length are from memory",
    confirmed=False,
)
UNEVEN_SLOPES = Source(
    author="Foster & Wischmeier",
    title="Evaluating irregular slopes for soil loss prediction",
    dated="1974",
    place="a slope cut into pieces, each with the water of those above it",
    confirmed=False,
)
PIEDMONT_TRAILS = Source(
    author="Wade, Bolding, Aust & Lakel, Southern Journal of Applied Forestry 36",
    title="Comparison of five erosion control techniques for bladed skid trails in Virginia",
    dated="2012",
    place="abstract: 137.7 t/ha a year with water bars only, 31.5 seeded, 3.0 to 8.9 covered",
)
RIDGE_TRAILS = Source(
    author="Vinson and others, Forest Science 63:432-440",
    title="Evaluation of bladed skid trail closure methods in the Ridge and Valley region",
    dated="2017",
    place="abstract: 15.1 t/ha a year with water bars only, 5.9 seeded, 0.8 to 1.1 covered",
)
TRAIL_COVER = Source(
    author="Dissmeyer & Foster, USDA Forest Service",
    title="A guide for predicting sheet and rill erosion on forest land",
    dated="1984",
    place="cover factor of bare, settled soil 0.45",
    confirmed=False,
)
PASSES = Source(
    author="several trials, Iran and Finland",
    title="compaction by passes of ground skidding",
    dated="undated",
    place="no more change after 6 cycles on sloping and 12 on flat trails; the curve is ours",
)
DRAINAGE_CLASSES = Source(
    author="Soil Science Division Staff, USDA",
    title="Soil Survey Manual, Agriculture Handbook 18",
    dated="2017",
    place="natural drainage classes",
    confirmed=False,
)

# Chances, from memory; what follows from it is held against simulation by the tests.
RICE = Source(
    author="Rice, Bell System Technical Journal 24(1)",
    title="Mathematical analysis of random noise",
    dated="1945",
    place="distance of a point with a plane Gaussian error; real receivers err farther more often",
    confirmed=False,
)

"""What a track of a GPX file is: written as its ``type`` by us, and read back as that.

A file that went to the woods comes home with strip edges and keep-outs beside
the trails. Without their types a line not to be crossed would be read as one to
be driven.
"""

MAIN_TRAIL = "main trail"
SPUR = "spur"
OTHER_TRAIL = "trail"  # leaves the landing beside the main trail
STRIP_EDGE = "strip edge"
KEEP_OUT = "keep out"
HAZARD = "hazard"
HAZARD_TREE = "hazard tree"  # the ring round one that is not marked
FIRST_TREE = "hazard tree, cut first"  # the ring round one that is marked, until it lies

NO_TRAIL = frozenset({STRIP_EDGE, KEEP_OUT, HAZARD, HAZARD_TREE, FIRST_TREE})

# A trail's whole name, where a receiver's eight characters do not hold it.
EXTENSION_PREFIX = "skidway"
EXTENSION_SPACE = "urn:skidway:gpx:1"
WHOLE_NAME = "trail_id"
WHOLE_NAME_COLUMN = f"{EXTENSION_PREFIX}_{WHOLE_NAME}"  # as readers of tables call it

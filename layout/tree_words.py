"""Words a tree list may use for a reason to keep a tree, or for a hazard."""

KEEPS = frozenset({"crop", "seed", "den", "boundary", "line", "witness"})
HAZARDS = frozenset({"dead_top", "dead", "hung", "split", "rot", "vine", "wire"})
NO = frozenset({"", "no", "none", "n", "0", "false", "-"})

# How people say them; whole phrases only, so that "by the wire fence" is no hazard.
SPOKEN_KEEPS = {word: word for word in KEEPS} | {f"{word} tree": word for word in KEEPS}
SPOKEN_HAZARDS = {word.replace("_", " "): word for word in HAZARDS} | {
    "dead topped": "dead_top",
    "snag": "dead",
    "hung up": "hung",
    "hanger": "hung",
    "rotten": "rot",
    "hollow": "rot",
    "vines": "vine",
}

"""The compiled inside of winching: every position against every marked tree.

Nothing here knows a number: all limits come in as one array, named by
`LIMIT_NAMES`. The plain-language rules stand in `winch_rules`; this is them,
once, for millions of pairs. What a pull meets is measured so:

- elevations along it every metre or less, bilinear, from the grid as measured;
- closed ground cell by cell along the exact straight line, so no corner is cut;
- stems by their exact distance to the straight line, found through a coarse grid
  of bins.

Angles are radians and slopes rise over run, until they are handed out.
"""

import math

import numpy as np
from numpy.typing import NDArray

from layout.kernels import njit

Floats = NDArray[np.float64]
Grid = NDArray[np.float32]
Whole = NDArray[np.int64]
Counts = NDArray[np.int32]
Codes = NDArray[np.uint8]
Flags = NDArray[np.bool_]

# What belongs together travels together:
Land = tuple[Grid, Grid, float, float, float, Codes]  # z, smoothed z, west, north, cell, closed
Angles = tuple[Floats, Floats, float, Floats, Floats]  # edges, degrees, step, downhill, uphill
# x, y, rear, swing_deg, any heading, never parked on
Places = tuple[Floats, Floats, Floats, Floats, Flags, Flags]
Bins = tuple[Whole, Whole, float, float, float]  # first item of each bin, items, west, north, size
Trees = tuple[Floats, Floats, Floats, Floats, Flags, Bins]  # x, y, kg, position error, exact
Stems = tuple[Floats, Floats, Floats, Flags, float, Bins]  # x, y, radius, keep, largest radius
Crowd = tuple[float, float, float, bool]  # stems per m2: all, vaguely placed; width; known

# fmt: off
# Order of the limits array; the capitals below are places in it, never values.
LIMIT_NAMES = (
    "rope_reach_m", "working_reach_m", "uphill_reach_m", "uphill_full_pct",
    "park_pct", "park_stop_pct", "swing_slope_pct", "length_m", "track_m",
    "downhill_share", "level_cross_pct", "pull_angle_deg", "angle_caution_deg",
    "load_above_pct", "load_above_caution_pct",
    "run_stop_pct", "run_steep_pct", "run_caution_pct", "load_baseline_m",
    "corridor_m", "rope_clear_m", "stump_free_m", "fairlead_free_m", "leave_hits",
    "hump_m", "fairlead_height_m", "hook_height_m",
    "friction", "breakout", "weight_share", "pull_limit_kn", "anchor_kn", "most_pieces",
    "sure_chance", "doubtful_chance", "tight_m2", "doubtful_m2",
    "pull_m2_per_m", "corridor_weight", "stem_brushed_m2", "downhill_pull_m2",
    "profile_m",
)
(
    ROPE_REACH, WORKING_REACH, UPHILL_REACH, UPHILL_FULL,
    PARK, PARK_STOP, SWING_SLOPE, LENGTH, TRACK,
    DOWNHILL_SHARE, LEVEL_CROSS, PULL_ANGLE, ANGLE_CAUTION,
    LOAD_ABOVE, LOAD_ABOVE_CAUTION,
    RUN_STOP, RUN_STEEP, RUN_CAUTION, LOAD_BASELINE,
    CORRIDOR, ROPE_CLEAR, STUMP_FREE, FAIRLEAD_FREE, LEAVE_HITS,
    HUMP, FAIRLEAD_HEIGHT, HOOK_HEIGHT,
    FRICTION, BREAKOUT, WEIGHT_SHARE, PULL_LIMIT, ANCHOR, MOST_PIECES,
    SURE_CHANCE, DOUBTFUL_CHANCE, TIGHT_PRICE, DOUBTFUL_PRICE,
    PULL_PRICE, CORRIDOR_PRICE, BRUSHED_PRICE, DOWNHILL_PRICE,
    PROFILE,
) = range(len(LIMIT_NAMES))

# Columns handed out for each allowed pair.
NUMBER_NAMES = (
    "swing_deg", "angle_deg", "angle_limit_deg", "map_m", "ground_m", "reach_m", "margin_m",
    "rise_m", "hits", "pull_kn", "cross_pct", "along_pct", "cost_m2", "to_left_deg",
)
WHOLE_NAMES = ("pos", "tree", "pieces", "caution", "sure")
# Order of the refusal codes handed in.
CODE_NAMES = (
    "served", "no_position", "reach", "parking", "angle", "above", "runs", "water",
    "outside_land", "keep_out", "hazard", "no_elevation", "rope_stem", "keep_tree",
    "leave_hits", "hump", "pull",
)
(
    C_SERVED, C_NONE, C_REACH, C_PARK, C_ANGLE, C_ABOVE, C_RUNS, C_WATER,
    C_LAND, C_KEEP_OUT, C_HAZARD, C_GAP, C_ROPE_STEM, C_KEEP,
    C_HITS, C_HUMP, C_PULL,
) = range(len(CODE_NAMES))
# fmt: on

# Codes of closed ground; the soft ones are ground inside half a corridor of it.
LAND, KEEP_OUT, WATER, HAZARD = 1, 2, 3, 4
SOFT = 10


@njit
def elevation(z: Grid, west: float, north: float, cell: float, x: float, y: float) -> float:
    """Interpolate between cell centres; NaN off the outer centres or beside a gap."""
    row = (north - y) / cell - 0.5
    col = (x - west) / cell - 0.5
    rows, cols = z.shape
    # A point on the last centre may be off by the last bit of a coordinate.
    if row < -1e-9 or col < -1e-9 or row > rows - 1 + 1e-9 or col > cols - 1 + 1e-9:
        return np.nan
    r0 = min(max(int(row), 0), max(rows - 2, 0))
    c0 = min(max(int(col), 0), max(cols - 2, 0))
    r1, c1 = min(r0 + 1, rows - 1), min(c0 + 1, cols - 1)
    fr, fc = row - r0, col - c0
    upper = (1.0 - fc) * z[r0, c0] + fc * z[r0, c1]
    lower = (1.0 - fc) * z[r1, c0] + fc * z[r1, c1]
    return float((1.0 - fr) * upper + fr * lower)


@njit
def lie(
    land: Land, x: float, y: float, rear: float, length: float, track: float
) -> tuple[float, float]:
    """Give how an outfit lies whose fairlead is at x, y and whose rear points along ``rear``.

    Returns the rise towards the rear, and that towards the left looking back, both
    per unit of length, over the outfit's length and track (two cells at least).
    """
    _, zs, west, north, cell, _ = land
    cos, sin = math.cos(rear), math.sin(rear)
    mx, my = x - 0.5 * length * cos, y - 0.5 * length * sin
    along = 0.5 * max(length, 2.0 * cell)
    across = 0.5 * max(track, 2.0 * cell)
    rise, tilt = 0.0, 0.0
    for k in range(4):  # behind, ahead, left, right
        side = 1.0 if k % 2 == 0 else -1.0
        if k < 2:
            rise += side * elevation(
                zs, west, north, cell, mx + side * along * cos, my + side * along * sin
            )
        else:
            tilt += side * elevation(
                zs, west, north, cell, mx - side * across * sin, my + side * across * cos
            )
    return rise / (2.0 * along), tilt / (2.0 * across)


@njit
def lie_many(
    land: Land, x: Floats, y: Floats, rear: Floats, length: float, track: float
) -> tuple[Floats, Floats]:
    """Give how outfits lie at many places; two arrays, as `lie`."""
    along, tilt = np.empty(x.size), np.empty(x.size)
    for i in range(x.size):
        along[i], tilt[i] = lie(land, x[i], y[i], rear[i], length, track)
    return along, tilt


@njit
def angle_limit(cross: float, downhill: bool, angles: Angles, limits: Floats) -> float:
    """Give the widest angle, degrees, on a cross slope (percent, unsigned)."""
    edges, degrees, step, side_down, side_up = angles
    if not math.isfinite(cross):
        return 0.0
    row = 0
    while row < edges.size and cross > edges[row] + 1e-9:
        row += 1
    angle = degrees[row]
    if downhill and cross > limits[LEVEL_CROSS]:
        angle *= limits[DOWNHILL_SHARE]
    entry = math.ceil(cross / step - 1e-9)
    machine = 0.0
    if entry < side_down.size:
        machine = side_down[entry] if downhill else side_up[entry]
    return float(min(angle, limits[PULL_ANGLE], machine))


@njit
def closed_length(
    land: Land, x0: float, y0: float, x1: float, y1: float, free_m: float, found: Floats
) -> None:
    """Add up the metres of a straight line on each kind of closed ground, in ``found``.

    Walks the grid cell by cell from x0, y0 (the stump). Soft codes count only
    farther than ``free_m`` from there. Off the grid counts as off the land.
    """
    _, _, west, north, cell, closed = land
    for kind in range(found.size):
        found[kind] = 0.0
    total = math.hypot(x1 - x0, y1 - y0)
    rows, cols = closed.shape
    col_f, row_f = (x0 - west) / cell, (north - y0) / cell
    col, row = math.floor(col_f), math.floor(row_f)
    if total <= 0.0:
        code = LAND
        if 0 <= row < rows and 0 <= col < cols:
            code = closed[row, col]
        if 0 < code < SOFT:
            found[code] = 1e-9
        return
    ux, uy = (x1 - x0) / total, (y1 - y0) / total
    step_c = 1 if ux > 0 else -1
    step_r = -1 if uy > 0 else 1  # rows run south
    per_c, per_r, next_c, next_r = np.inf, np.inf, np.inf, np.inf
    if ux != 0.0:
        per_c = cell / abs(ux)
        next_c = (col + 1 - col_f if ux > 0 else col_f - col) * per_c
    if uy != 0.0:
        per_r = cell / abs(uy)
        next_r = (row_f - row if uy > 0 else row + 1 - row_f) * per_r
    at = 0.0
    while at < total:
        until = min(next_c, next_r, total)
        code = LAND
        if 0 <= row < rows and 0 <= col < cols:
            code = closed[row, col]
        if code > 0 and until - at > 1e-9:  # a touched corner is not crossed
            if code < SOFT:
                found[code] += until - at
            elif until - free_m > 1e-9:
                found[code - SOFT] += until - max(at, free_m)
        at = until
        if next_c <= next_r:
            next_c += per_c
            col += step_c
        else:
            next_r += per_r
            row += step_r


@njit
def count_stems(
    stems: Stems,
    line: tuple[float, float, float, float],
    lane: float,
    clear: float,
    free_m: float,
) -> tuple[int, int, int]:
    """Count stems by a line: on the rope, keep trees in the lane, plain ones in the lane.

    The line is x, y of the fairlead, then of the stump. A stem counts as soon as any
    of its wood is nearer than the room asked for; a plain one within ``free_m`` of
    the fairlead stands on the trail and comes out with it.
    """
    x0, y0, x1, y1 = line
    stem_x, stem_y, stem_r, stem_keep, thickest, (first, items, west, north, bin_m) = stems
    on_rope, keep, plain = 0, 0, 0
    if items.size == 0:
        return on_rope, keep, plain
    rows, cols = first.shape[0], first.shape[1] - 1
    room = max(0.5 * lane, clear) + thickest
    c_low = max(math.floor((min(x0, x1) - room - west) / bin_m), 0)
    c_high = min(math.floor((max(x0, x1) + room - west) / bin_m), cols - 1)
    r_low = max(math.floor((north - max(y0, y1) - room) / bin_m), 0)
    r_high = min(math.floor((north - min(y0, y1) + room) / bin_m), rows - 1)
    if c_low > c_high:
        return on_rope, keep, plain
    vx, vy = x1 - x0, y1 - y0
    square = vx * vx + vy * vy
    for row in range(r_low, r_high + 1):
        # bins of one row follow each other, so one stretch of items covers them
        for k in range(first[row, c_low], first[row, c_high + 1]):
            i = items[k]
            wx, wy = stem_x[i] - x0, stem_y[i] - y0
            if not stem_keep[i] and math.hypot(wx, wy) < free_m:
                continue
            t = 0.0
            if square > 0.0:
                t = min(max((wx * vx + wy * vy) / square, 0.0), 1.0)
            ax, ay = wx - t * vx, wy - t * vy
            away = math.sqrt(ax * ax + ay * ay) - stem_r[i]
            if away < clear:
                on_rope += 1
            if away < 0.5 * lane:
                if stem_keep[i]:
                    keep += 1
                else:
                    plain += 1
    return on_rope, keep, plain


@njit
def steepest(profile: Floats, n: int, step: float, baseline: float) -> tuple[float, float]:
    """Give the steepest stretch, rise over run: of the pull uphill, of a load running down.

    A stretch is about ``baseline`` long, or the whole of a shorter pull.
    """
    if step <= 0.0:
        return 0.0, 0.0
    w = min(max(math.floor(baseline / step + 0.5), 1), n)
    up, down = -np.inf, -np.inf
    for i in range(n - w + 1):
        slope = (profile[i + w] - profile[i]) / (w * step)  # + where the stump's side is higher
        down = max(down, slope)
        up = max(up, -slope)
    return up, down


@njit
def corridor(
    land: Land,
    stems: Stems,
    crowd: Crowd,
    limits: Floats,
    line: tuple[float, float, float, float],
    exact: bool,
    found: Floats,
) -> tuple[int, float, float]:
    """Judge what lies by a pull (x, y of the fairlead, then of the stump): rule 4.

    Returns the place of the code in `CODE_NAMES`, its shortfall and the leave
    stems brushed, counted or expected.
    """
    x, y, tx, ty = line
    all_m2, vague_m2, stem_width, known = crowd
    closed_length(land, tx, ty, x, y, limits[STUMP_FREE], found)
    if found[WATER] > 0.0:
        return C_WATER, found[WATER], 0.0
    if found[LAND] > 0.0:
        return C_LAND, found[LAND], 0.0
    if found[KEEP_OUT] > 0.0:
        return C_KEEP_OUT, found[KEEP_OUT], 0.0
    if found[HAZARD] > 0.0:
        return C_HAZARD, found[HAZARD], 0.0
    area = (limits[CORRIDOR] + stem_width) * math.hypot(tx - x, ty - y)
    hits = all_m2 * area
    if exact:
        on_rope, keep, plain = count_stems(
            stems, line, limits[CORRIDOR], limits[ROPE_CLEAR], limits[FAIRLEAD_FREE]
        )
        hits = plain + vague_m2 * area
        if on_rope > 0:
            return C_ROPE_STEM, float(on_rope), hits
        if keep > 0:
            return C_KEEP, float(keep), hits
        if plain > limits[LEAVE_HITS]:
            return C_HITS, plain - limits[LEAVE_HITS], hits
    return C_SERVED, 0.0, hits if known else np.nan


# Written as loops: assigning to a slice costs seconds of compiling for error texts.
@njit
def resized(table: Floats, room: int, used: int) -> Floats:
    """Give the same columns, the first ``used`` of them, in a table with this room."""
    out = np.empty((table.shape[0], room))
    for i in range(table.shape[0]):
        for j in range(used):
            out[i, j] = table[i, j]
    return out


@njit
def resized_wholes(table: Counts, room: int, used: int) -> Counts:
    """Do as `resized`, for whole numbers."""
    out = np.empty((table.shape[0], room), dtype=np.int32)
    for i in range(table.shape[0]):
        for j in range(used):
            out[i, j] = table[i, j]
    return out


@njit
def out_chance(away: float, radius: float, left: float, right: float, sigma: float) -> float:
    """Give the chance that a stump stands outside a sector about the fairlead.

    ``left`` and ``right`` are the angles from the dot's bearing to the sector's edges,
    + where the dot is inside of that edge, pi each for a full circle; ``sigma`` is the
    standard deviation of the dot along one direction. As `layout.reach_chance` does it,
    with Simpson's rule in place of Gauss-Legendre: within a tenth of a point of it.
    """
    if sigma <= 0.0:
        inside = away <= radius + 1e-9 and left >= -1e-9 and right >= -1e-9
        return 0.0 if inside else 1.0
    d, r = away / sigma, max(radius, 0.0) / sigma
    wide = math.asin(5.0 / d) if d > 5.0 else math.pi
    low, high = max(-right, -wide), min(left, wide)
    if high <= low:
        return 1.0
    n = 2 * max(math.ceil((high - low) * max(d, 1.0) / 1.2), 3)
    step = (high - low) / n
    inside_part = 0.0
    for i in range(n + 1):
        along = d * math.cos(low + i * step)
        across = d * math.sin(low + i * step)
        bell = math.exp(-0.5 * along * along) - math.exp(-0.5 * (r - along) * (r - along))
        body = math.erf((r - along) / math.sqrt(2.0)) + math.erf(along / math.sqrt(2.0))
        value = bell + along * math.sqrt(0.5 * math.pi) * body
        weight = 1.0 if i == 0 or i == n else 4.0 if i % 2 == 1 else 2.0
        inside_part += weight * math.exp(-0.5 * across * across) * value
    return min(max(1.0 - inside_part * step / (6.0 * math.pi), 0.0), 1.0)


@njit
def sure_of(
    away: float,
    radius: float,
    left: float,
    right: float,
    sigma: float,
    sure_chance: float,
    doubtful_chance: float,
) -> int:
    """Sort a pull by the chance that its stump is out of reach: 0 sure, 1 tight, 2 doubtful."""
    if sigma > 0.0:
        # The room all round the dot bounds the chance at once for most pulls.
        room = radius - away
        if min(left, right) < 0.5 * math.pi:
            room = min(room, away * math.sin(max(min(left, right), 0.0)))
        if room > 0.0 and math.exp(-0.5 * (room / sigma) ** 2) <= sure_chance:
            return 0
        if left + right <= math.pi or min(left, right) >= math.pi:
            least = 0.5 * math.erfc(room / (sigma * math.sqrt(2.0)))
            if least > doubtful_chance:
                return 2
    chance = out_chance(away, radius, left, right, sigma)
    if chance <= sure_chance + 1e-12:
        return 0
    return 1 if chance <= doubtful_chance + 1e-12 else 2


@njit
def search(
    limits: Floats,
    angles: Angles,
    land: Land,
    places: Places,
    trees: Trees,
    stems: Stems,
    crowd: Crowd,
    codes: Whole,
) -> tuple[Floats, Counts, Whole, Floats, Whole]:
    """Try every position against every tree.

    ``codes`` holds the refusal codes in the order of `CODE_NAMES`; a higher one got
    farther, and served is the lowest. Returns the numbers and whole numbers of
    every allowed pair, row for row, and of every tree the farthest code, its
    shortfall and the position it was at (of a served tree the cheapest). A tree
    out of everybody's longest reach keeps the code of no position.
    """
    z, _, west, north, cell, _ = land
    pos_x, pos_y, pos_rear, pos_swing, pos_any, pos_shut = places
    tree_x, tree_y, tree_kg, tree_err, tree_exact, (first, items, b_west, b_north, b_m) = trees
    b_rows, b_cols = first.shape[0], first.shape[1] - 1
    known = crowd[3]
    n_tree = tree_x.size
    numbers = np.empty((14, 4096))
    wholes = np.empty((5, 4096), dtype=np.int32)
    count = 0
    best_code = np.full(n_tree, codes[C_NONE], dtype=np.int64)
    best_short = np.full(n_tree, np.inf)
    best_pos = np.full(n_tree, -1, dtype=np.int64)
    best_cost = np.full(n_tree, np.inf)
    served = codes[C_SERVED]

    length, track = limits[LENGTH], limits[TRACK]
    longest = min(limits[ROPE_REACH], limits[WORKING_REACH])
    stop, level = limits[PARK_STOP] + 1e-9, limits[PARK] + 1e-9
    profile = np.empty(max(math.ceil(longest / limits[PROFILE]), 1) + 2)
    to_deg = 180.0 / math.pi
    widest = (min(limits[PULL_ANGLE], max(angles[4][0], angles[3][0])) + 1e-6) / to_deg
    around = np.empty(n_tree, dtype=np.int64)
    found = np.empty(5)

    for p in range(pos_x.size):
        x, y, rear = pos_x[p], pos_y[p], pos_rear[p]
        base_along, base_tilt = lie(land, x, y, rear, length, track)
        z_here = elevation(z, west, north, cell, x, y)
        swing_most = 0.0
        if 100.0 * math.hypot(base_along, base_tilt) <= limits[SWING_SLOPE] + 1e-9:
            swing_most = pos_swing[p] / to_deg
        level_enough = 100.0 * abs(base_along) <= stop and 100.0 * abs(base_tilt) <= stop
        base_parked = level_enough and not pos_shut[p]

        # Only trees in the bins about this place can be within the longest reach.
        near = 0
        c_low = max(math.floor((x - longest - b_west) / b_m), 0)
        c_high = min(math.floor((x + longest - b_west) / b_m), b_cols - 1)
        r_low = max(math.floor((b_north - y - longest) / b_m), 0)
        r_high = min(math.floor((b_north - y + longest) / b_m), b_rows - 1)
        if c_low <= c_high:
            for row in range(r_low, r_high + 1):
                for k in range(first[row, c_low], first[row, c_high + 1]):
                    around[near] = items[k]
                    near += 1

        for k in range(near):
            t = around[k]
            dx, dy = tree_x[t] - x, tree_y[t] - y
            map_m = math.sqrt(dx * dx + dy * dy)
            # Rule 1, its cheap half: no pull is longer than the longest reach.
            if map_m > longest:
                continue

            # A tree that already has a pull needs no reason, so what cannot be allowed
            # there is dropped as soon as that is plain.
            if best_code[t] == served and (pos_shut[p] or not (pos_any[p] or base_parked)):
                continue
            bearing = math.atan2(dy, dx) if map_m > 0.0 else rear
            off = bearing - rear
            off -= 2.0 * math.pi * math.floor(off / (2.0 * math.pi) + 0.5)
            if best_code[t] == served and not pos_any[p] and abs(off) - swing_most > widest:
                continue
            # Park: straight at the tree, or swung towards it as far as the trail lets us.
            turned, along, tilt = 0.0, base_along, base_tilt
            straight, room_swing = False, swing_most
            if pos_any[p]:
                a, c = lie(land, x, y, bearing, length, track)
                if 100.0 * abs(a) <= stop and 100.0 * abs(c) <= stop:
                    turned, along, tilt, straight = off, a, c, True
            if not straight and swing_most > 0.0:
                turned = min(max(off, -swing_most), swing_most)
                a, c = lie(land, x, y, rear + turned, length, track)
                if 100.0 * abs(a) <= level and 100.0 * abs(c) <= level:
                    along, tilt = a, c
                else:
                    turned, room_swing = 0.0, 0.0
            cross = 100.0 * abs(tilt)
            lean = max(cross, 100.0 * abs(along))
            # both asked for, so that ground that is not known (NaN) is never parked on
            parked = not pos_shut[p] and cross <= stop and 100.0 * abs(along) <= stop
            angle = off - turned
            limit_left = angle_limit(cross, tilt < 0.0, angles, limits)
            limit_right = angle_limit(cross, tilt > 0.0, angles, limits)
            limit = limit_left
            if off < 0.0:
                limit = limit_right
            angle_deg = abs(angle) * to_deg
            straight_enough = angle_deg <= limit + 1e-9

            if best_code[t] == served and not (parked and straight_enough):
                continue

            # Rule 1 in full, along the ground.
            n = max(math.ceil(map_m / limits[PROFILE]), 1)
            step = map_m / n
            ground = 0.0
            profile[0] = z_here
            for i in range(1, n + 1):
                f = i / n
                profile[i] = elevation(z, west, north, cell, x + f * dx, y + f * dy)
                up = profile[i] - profile[i - 1]
                ground += math.sqrt(step * step + up * up)
            rise = profile[n] - z_here
            gap = not math.isfinite(ground)
            rise_pct = 0.0
            if not gap and ground > 0.0:
                rise_pct = 100.0 * rise / ground
            share = min(max(rise_pct / limits[UPHILL_FULL], 0.0), 1.0)
            dragged = limits[WORKING_REACH] - share * (limits[WORKING_REACH] - limits[UPHILL_REACH])
            reach = min(limits[ROPE_REACH], dragged)
            steep_up, steep_down, hits, pull, pieces = 0.0, 0.0, 0.0, 0.0, 1
            where, short = C_SERVED, 0.0
            if not gap and ground > reach + 1e-9:
                where, short = C_REACH, ground - reach
            # Rule 2.
            elif not parked:
                where, short = C_PARK, lean - limits[PARK_STOP]
                if pos_shut[p] or not math.isfinite(cross + along):
                    short = np.inf
            elif not straight_enough:
                where, short = C_ANGLE, angle_deg - limit
            elif gap:  # ground that is not known cannot be judged any farther
                where, short = C_GAP, map_m
            # Rule 3, and beside it whether the load would run on its own.
            elif rise_pct > limits[LOAD_ABOVE] + 1e-9:
                where, short = C_ABOVE, rise_pct - limits[LOAD_ABOVE]
            else:
                steep_up, steep_down = steepest(profile, n, step, limits[LOAD_BASELINE])
                if rise > 0.0 and rise_pct > limits[RUN_STOP] + 1e-9:
                    where, short = C_RUNS, rise_pct - limits[RUN_STOP]
                elif rise > 0.0 and 100.0 * steep_down > limits[RUN_STEEP] + 1e-9:
                    where, short = C_RUNS, 100.0 * steep_down - limits[RUN_STEEP]

            # Rule 4.
            if where == C_SERVED:
                where, short, hits = corridor(
                    land, stems, crowd, limits, (x, y, tree_x[t], tree_y[t]), tree_exact[t], found
                )
            if where == C_SERVED:
                low, high = z_here + limits[FAIRLEAD_HEIGHT], profile[n] + limits[HOOK_HEIGHT]
                hump = 0.0
                for i in range(1, n):
                    hump = max(hump, profile[i] - (low + (high - low) * i / n))
                if hump > limits[HUMP] + 1e-9:
                    where, short = C_HUMP, hump - limits[HUMP]

            # Rule 5.
            if where == C_SERVED:
                per_kg = (limits[FRICTION] + steep_up) / math.hypot(1.0, steep_up)
                heavy = tree_kg[t] * limits[WEIGHT_SHARE] * (1.0 + limits[BREAKOUT])
                whole = heavy * 9.80665e-3 * max(per_kg, 0.0)
                pull = whole
                while pull > limits[PULL_LIMIT] + 1e-9 and pieces < limits[MOST_PIECES]:
                    pieces += 1
                    pull = whole / pieces
                if pull > limits[PULL_LIMIT] + 1e-9:
                    where, short = C_PULL, pull - limits[PULL_LIMIT]

            if where != C_SERVED:
                code = codes[where]
                if best_code[t] != served and (
                    code > best_code[t]
                    or (code == best_code[t] and (short < best_short[t] or best_pos[t] < 0))
                ):
                    best_code[t], best_short[t], best_pos[t] = code, short, p
                continue

            # Allowed. How far may the stump be from its dot before the pull is not?
            margin = reach - ground
            room_left = room_right = math.pi
            if not straight:
                room_left = limit_left / to_deg + room_swing - off
                room_right = limit_right / to_deg + room_swing + off
                spare = min(max(min(room_left, room_right), 0.0), 0.5 * math.pi)
                margin = min(margin, map_m * math.sin(spare))
            # The ground goes on as it lies under the pull: what rope is left, on the map.
            radius = map_m + (reach - ground) * (map_m / ground if ground > 0.0 else 1.0)
            sure = sure_of(
                map_m,
                radius,
                room_left,
                room_right,
                tree_err[t] / math.sqrt(2.0),
                limits[SURE_CHANCE],
                limits[DOUBTFUL_CHANCE],
            )

            caution = 0
            if lean > level:
                caution |= 1
            if angle_deg > limits[ANGLE_CAUTION] + 1e-9:
                caution |= 2
            if rise_pct > limits[LOAD_ABOVE_CAUTION] + 1e-9:
                caution |= 4
            if rise > 0.0 and 100.0 * steep_down > limits[RUN_CAUTION] + 1e-9:
                caution |= 8
            if known and hits >= 0.5:
                caution |= 16
            if pieces > 1:
                caution |= 32
            if pull > limits[ANCHOR] + 1e-9:
                caution |= 64
            if not math.isfinite(tree_kg[t]):
                caution |= 128

            cost = limits[PULL_PRICE] * ground + limits[CORRIDOR_PRICE] * limits[CORRIDOR] * map_m
            if known:
                cost += limits[BRUSHED_PRICE] * hits
            if rise > 0.0:
                cost += limits[DOWNHILL_PRICE]
            if sure == 1:
                cost += limits[TIGHT_PRICE]
            elif sure == 2:
                cost += limits[DOUBTFUL_PRICE]

            if count == numbers.shape[1]:
                numbers = resized(numbers, 2 * count, count)
                wholes = resized_wholes(wholes, 2 * count, count)
            numbers[0, count] = turned * to_deg
            numbers[1, count] = angle_deg
            numbers[2, count] = limit
            numbers[3, count] = map_m
            numbers[4, count] = ground
            numbers[5, count] = reach
            numbers[6, count] = margin
            numbers[7, count] = rise
            numbers[8, count] = hits
            numbers[9, count] = pull
            numbers[10, count] = cross
            numbers[11, count] = -100.0 * along
            numbers[12, count] = cost
            numbers[13, count] = angle * to_deg
            wholes[0, count] = p
            wholes[1, count] = t
            wholes[2, count] = pieces
            wholes[3, count] = caution
            wholes[4, count] = sure
            count += 1
            best_code[t], best_short[t] = served, 0.0
            if cost < best_cost[t]:
                best_cost[t], best_pos[t] = cost, p
    return (
        resized(numbers, count, count),
        resized_wholes(wholes, count, count),
        best_code,
        best_short,
        best_pos,
    )

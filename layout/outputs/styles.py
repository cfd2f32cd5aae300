"""How each layer of plan.gpkg is drawn when a desktop GIS opens it.

Width, dash, hatch and the form of a mark say the same as colour does, so that a
black and white print reads alike.
"""

from layout.outputs import palette as ink
from layout.outputs.qml import (
    Label,
    Rule,
    Symbol,
    by_rule,
    document,
    fill,
    hatch,
    line,
    marker,
    single,
)
from layout.outputs.words import say


def _line(*layers: str) -> Symbol:
    return Symbol("line", layers)


def _mark(*layers: str, level: int = 0) -> Symbol:
    return Symbol("marker", layers, level)


def _area(*layers: str) -> Symbol:
    return Symbol("fill", layers)


def _trails() -> str:
    return by_rule(
        (
            Rule("\"kind\" = 'main'", say("mark_main"), _line(line(ink.INK, 1.3))),
            Rule(
                "ELSE",
                say("mark_spur"),
                _line(line(ink.CASING, 1.3), line(ink.SPUR, 0.7)),
            ),
        )
    )


def _steps() -> str:
    return by_rule(
        (
            Rule(
                "\"loaded_dir\" = 'up'", say("legend_up"), _line(line(ink.UNSERVED, 0.35, (2, 1)))
            ),
            Rule("\"loaded_dir\" = 'down'", say("legend_down"), _line(line(ink.OLD_TRAIL, 0.35))),
            Rule("ELSE", say("legend_level"), _line(line(ink.OLD_TRAIL, 0.35, (0.5, 1)))),
        )
    )


def _pulls() -> str:
    return by_rule(
        (
            Rule("\"sure\" = 'sure'", say("legend_pull_sure"), _line(line(ink.PULL, 0.25))),
            Rule(
                "\"sure\" = 'tight'", say("legend_pull_tight"), _line(line(ink.PULL, 0.25, (2, 1)))
            ),
            Rule("ELSE", say("legend_pull_doubtful"), _line(line(ink.PULL, 0.25, (0.5, 1)))),
        )
    )


def _reach_chance() -> str:
    return by_rule(
        (
            Rule(
                "\"sure\" = 'doubtful'",
                say("legend_reach_doubtful"),
                _mark(marker("circle", ink.PULL, ink.PAPER, 4.4, edge_mm=0.3), level=2),
            ),
            Rule(
                "\"sure\" = 'tight'",
                say("legend_reach_tight"),
                _mark(
                    marker("circle", ink.PAPER, ink.PULL, 3.4, edge_mm=0.4),
                    marker("circle", ink.PULL, ink.PULL, 1.4),
                    level=1,
                ),
            ),
            Rule(
                "ELSE",
                say("legend_reach_sure"),
                _mark(marker("circle", ink.PAPER, ink.PULL, 1.8, edge_mm=0.25)),
            ),
        )
    )


def _trees() -> str:
    return by_rule(
        (
            Rule(
                "\"role\" = 'rub'",
                say("legend_tree_rub"),
                _mark(
                    marker("circle", ink.SERVED, ink.PAPER, 2.2),
                    marker("circle", "", ink.RUB, 3.4, edge_mm=0.5),
                    level=1,
                ),
            ),
            Rule(
                "\"role\" = 'in_trail'",
                say("legend_in_trail"),
                _mark(
                    marker("circle", ink.PAPER, ink.INK, 2.4),
                    marker("cross2", ink.INK, ink.INK, 1.5, edge_mm=0.4),
                ),
            ),
            Rule(
                "\"status\" IN ('served', 'with_trail')",
                say("mark_served"),
                _mark(marker("circle", ink.SERVED, ink.PAPER, 2.2), level=1),
            ),
            Rule(
                "\"status\" IN ('leave', 'done')",
                say("mark_stem"),
                _mark(marker("circle", ink.PAPER, ink.STEM, 0.9, edge_mm=0.2)),
            ),
            Rule(
                "ELSE",
                say("mark_unserved"),
                _mark(marker("cross2", ink.UNSERVED, ink.UNSERVED, 2.6, edge_mm=0.6), level=2),
            ),
        )
    )


def _findings() -> str:
    return by_rule(
        (
            Rule(
                "\"level\" = 'stop'",
                say("mark_stop"),
                _mark(marker("octagon", ink.STOP, ink.INK, 4.0), level=1),
            ),
            Rule(
                "\"level\" = 'caution'",
                say("legend_caution"),
                _mark(marker("triangle", "", ink.CAUTION, 2.4, edge_mm=0.5)),
            ),
            Rule(
                "\"level\" = 'unknown'",
                say("legend_unknown"),
                _mark(marker("diamond", "", ink.INK, 2.4)),
            ),
            Rule("ELSE", say("legend_ok"), _mark(marker("circle", ink.STEM, ink.STEM, 1.0))),
        )
    )


def _rub_trees() -> str:
    return by_rule(
        (
            Rule(
                "\"kind\" = 'marked'",
                say("legend_rub_marked"),
                _mark(marker("pentagon", ink.RUB, ink.PAPER, 3.4), level=1),
            ),
            Rule(
                "\"kind\" = 'proposed'",
                say("legend_rub_proposed"),
                _mark(marker("pentagon", ink.PAPER, ink.RUB, 3.0, edge_mm=0.6), level=1),
            ),
            Rule(
                "ELSE",
                say("legend_rub_other"),
                _mark(marker("cross", ink.RUB, ink.RUB, 3.0, edge_mm=0.6)),
            ),
        )
    )


def _wet_hollows() -> str:
    def ruled(angle: int) -> Symbol:
        edge = fill(ink.PAPER, 0, ink.WATER, 0.3, dashed=True)
        return _area(edge, hatch(ink.WATER, angle, 2.4, 0.12))

    return by_rule(
        (
            Rule("\"kind\" = 'basin'", say("legend_hollow_basin"), ruled(0)),
            Rule("ELSE", say("legend_hollow_wet"), ruled(90)),
        )
    )


def _hazards() -> str:
    """Draw hazards by the form of their geometry: the layer holds points, lines and areas."""
    dashes = (3.0, 0.8, 0.5, 0.8)
    return by_rule(
        (
            Rule(
                "geom_to_wkt($geometry) ILIKE '%point%'",
                say("mark_hazard"),
                _mark(marker("diamond", ink.PAPER, ink.HAZARD, 3.2, edge_mm=0.7)),
            ),
            Rule(
                "geom_to_wkt($geometry) ILIKE '%polygon%'",
                say("mark_hazard"),
                _area(fill(ink.PAPER, 0, ink.HAZARD, 0.7), hatch(ink.HAZARD, 135, 2.4, 0.15)),
            ),
            Rule("ELSE", say("mark_hazard"), _line(line(ink.HAZARD, 0.7, dashes))),
        )
    )


def _hazard_trees() -> str:
    return by_rule(
        (
            Rule(
                '"marked"',
                say("legend_hazard_first"),
                _mark(marker("triangle", ink.PAPER, ink.HAZARD, 4.2, edge_mm=0.7), level=3),
            ),
            Rule(
                "ELSE",
                say("legend_hazard_off"),
                _mark(
                    marker("triangle", ink.PAPER, ink.HAZARD, 4.8, edge_mm=0.7),
                    marker("cross2", ink.HAZARD, ink.HAZARD, 1.4, edge_mm=0.5),
                    level=3,
                ),
            ),
        )
    )


def _hazard_rings() -> str:
    return by_rule(
        (
            Rule(
                '"marked"',
                say("legend_hazard_ring_first"),
                _area(fill(ink.PAPER, 0, ink.HAZARD, 0.6, dotted=True)),
            ),
            Rule(
                "ELSE",
                say("legend_hazard_ring"),
                _area(
                    fill(ink.PAPER, 0, ink.HAZARD, 0.6, dashed=True),
                    hatch(ink.HAZARD, 135, 3.0, 0.12),
                ),
            ),
        )
    )


def _landing_options() -> str:
    return by_rule(
        (
            Rule(
                '"used"', say("legend_landing_option_used"), _area(fill(ink.PAPER, 0, ink.INK, 0.9))
            ),
            Rule(
                "ELSE",
                say("legend_landing_option_other"),
                _area(fill(ink.PAPER, 0, ink.OLD_TRAIL, 0.4, dashed=True)),
            ),
        )
    )


_STYLES: dict[str, str] = {
    "stand": document(single(_area(fill(ink.PAPER, 0, ink.STAND, 0.5, dashed=True)))),
    "landing": document(
        single(_area(fill(ink.LANDING, 170, ink.INK, 0.6), hatch(ink.INK, 90, 2.5, 0.12))),
        Label('"landing_id"', 9, where="over", bold=True),
    ),
    "trails": document(_trails(), Label('"trail_id"', 10, where="along", bold=True)),
    "trail_steps": document(_steps()),
    "winch_positions": document(
        single(_mark(marker("square", ink.POSITION, ink.INK, 2.8, edge_mm=0.4))),
        Label('"position_id"', 7),
    ),
    "pulls": document(_pulls()),
    "reach_chance": document(
        _reach_chance(),
        Label('CASE WHEN "sure" <> \'sure\' THEN "said" END', 6.5, ink.PULL, bold=True),
    ),
    "trees": document(_trees(), Label('CASE WHEN "status" <> \'leave\' THEN "tree_id" END', 6.5)),
    "water_strips": document(
        single(_area(fill(ink.WATER, 28, ink.WATER, 0.3), hatch(ink.WATER, 45, 2.0, 0.18)))
    ),
    "turning_places": document(single(_area(fill(ink.TURNING, 190, ink.INK, 0.3)))),
    "water_bars": document(
        single(_mark(marker("line", ink.BAR, ink.BAR, 3.6, edge_mm=0.8, angle=60)))
    ),
    "crossings": document(
        single(_mark(marker("triangle", ink.PAPER, ink.BAR, 4.0, edge_mm=0.7, angle=180), level=1)),
        Label('"crossing_id"', 7, ink.BAR, bold=True),
    ),
    "findings": document(_findings()),
    "keep_out": document(
        single(
            _area(
                fill(ink.PAPER, 0, ink.KEEP_OUT, 0.4),
                hatch(ink.KEEP_OUT, 45, 2.2, 0.15),
                hatch(ink.KEEP_OUT, 135, 2.2, 0.15),
            )
        )
    ),
    "hazards": document(_hazards(), Label('"kind"', 8, ink.HAZARD, bold=True)),
    "hazard_trees": document(_hazard_trees(), Label('"tree_id"', 8, ink.HAZARD, bold=True)),
    "hazard_rings": document(_hazard_rings()),
    "property_line": document(
        single(_line(line(ink.PROPERTY, 0.6, (4.0, 0.9, 0.6, 0.9, 0.6, 0.9))))
    ),
    "gaps": document(
        single(_area(fill(ink.PAPER, 0, ink.GAP, 0.4, dashed=True), hatch(ink.GAP, 0, 2.6, 0.12))),
        Label('"gap_id"', 6.5, ink.GAP, where="over"),
    ),
    "channels": document(
        single(_line(line(ink.CASING, 1.2), line(ink.WATER, 0.7, (0.6, 0.8)))),
        Label('"channel_id"', 6.5, ink.WATER, where="along"),
    ),
    "wet_hollows": document(_wet_hollows()),
    "rub_trees": document(_rub_trees(), Label('"rub_id"', 6.5, ink.RUB)),
    "landing_options": document(
        _landing_options(), Label('"option_id"', 8, ink.OLD_TRAIL, where="over", bold=True)
    ),
    "small_landing": document(
        single(
            _area(fill(ink.LANDING, 170, ink.INK, 0.6, dashed=True), hatch(ink.INK, 0, 2.5, 0.12))
        )
    ),
}


def style_of(layer: str) -> str:
    """Give the default style of a layer as a style file.

    Parameters
    ----------
    layer : str
        A layer of `schema.LAYERS`.

    Returns
    -------
    str
        XML.
    """
    return _STYLES[layer]

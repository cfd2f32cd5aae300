"""The style language of a desktop GIS, as far as our marks need it.

Only the few elements that every release since 3.4 reads are written: a
renderer with symbols of simple layers, and a label. Everything else stays at
the program's own default.
"""

from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import quoteattr

from layout.outputs.palette import rgb

Props = dict[str, str]
_BOTTOM = 'pass="0"'


@dataclass(frozen=True, slots=True)
class Symbol:
    """One mark: the kind of geometry it is for, and its layers from below.

    A higher ``level`` is drawn over every lower one, whatever the features' order.
    """

    kind: str  # marker | line | fill
    layers: tuple[str, ...]
    level: int = 0


@dataclass(frozen=True, slots=True)
class Label:
    """What is written beside a feature: an expression, and how."""

    expression: str
    size_pt: float = 8.0
    colour: str = "#15191c"
    where: Literal["around", "over", "along"] = "around"
    bold: bool = False


def colour(value: str, alpha: int = 255) -> str:
    """Write a colour as the style language does: red,green,blue,alpha."""
    return ",".join(map(str, (*rgb(value), alpha)))


def layer(kind: str, props: Props, inner: str = "") -> str:
    """Write one symbol layer."""
    options = "".join(
        f'<Option type="QString" name={quoteattr(name)} value={quoteattr(value)}/>'
        for name, value in sorted(props.items())
    )
    return (
        f'<layer class="{kind}" enabled="1" locked="0" {_BOTTOM}>'
        f'<Option type="Map">{options}</Option>{inner}</layer>'
    )


def line(ink: str, width_mm: float, dashes_mm: tuple[float, ...] = ()) -> str:
    """Write a plain or dashed line."""
    props = {
        "line_color": colour(ink),
        "line_width": f"{width_mm:g}",
        "line_width_unit": "MM",
        "line_style": "solid",
        "capstyle": "flat" if dashes_mm else "round",
        "joinstyle": "round",
    }
    if dashes_mm:
        dash = ";".join(f"{d:g}" for d in dashes_mm)
        props |= {"customdash": dash, "use_custom_dash": "1", "customdash_unit": "MM"}
    return layer("SimpleLine", props)


def fill(
    paper: str,
    alpha: int,
    edge: str,
    edge_mm: float,
    *,
    dashed: bool = False,
    dotted: bool = False,
) -> str:
    """Write a filled area with an edge; alpha 0 leaves it empty."""
    return layer(
        "SimpleFill",
        {
            "color": colour(paper, alpha),
            "style": "solid" if alpha else "no",
            "outline_color": colour(edge),
            "outline_style": "dot" if dotted else "dash" if dashed else "solid",
            "outline_width": f"{edge_mm:g}",
            "outline_width_unit": "MM",
        },
    )


def hatch(ink: str, angle_deg: float, apart_mm: float, width_mm: float) -> str:
    """Write an area ruled with lines."""
    inner = symbol_element("@0@0", Symbol("line", (line(ink, width_mm),)))
    props = {
        "angle": f"{angle_deg:g}",
        "distance": f"{apart_mm:g}",
        "distance_unit": "MM",
        "color": colour(ink),
        "line_width": f"{width_mm:g}",
    }
    return layer("LinePatternFill", props, inner)


def marker(
    shape: str, paper: str, edge: str, size_mm: float, *, edge_mm: float = 0.3, angle: float = 0
) -> str:
    """Write a small mark; a blank ``paper`` leaves it hollow."""
    return layer(
        "SimpleMarker",
        {
            "name": shape,
            "color": colour(paper) if paper else colour(edge, 0),
            "outline_color": colour(edge),
            "outline_style": "solid",
            "outline_width": f"{edge_mm:g}",
            "outline_width_unit": "MM",
            "size": f"{size_mm:g}",
            "size_unit": "MM",
            "angle": f"{angle:g}",
        },
    )


def symbol_element(name: str, symbol: Symbol) -> str:
    """Write a symbol under a name."""
    return (
        f'<symbol type="{symbol.kind}" name="{name}" alpha="1" clip_to_extent="1" force_rhr="0">'
        + "".join(symbol.layers).replace(_BOTTOM, f'pass="{symbol.level}"')
        + "</symbol>"
    )


def single(symbol: Symbol) -> str:
    """Write a renderer that draws every feature alike."""
    return (
        '<renderer-v2 type="singleSymbol" symbollevels="0" enableorderby="0" forceraster="0">'
        f"<symbols>{symbol_element('0', symbol)}</symbols></renderer-v2>"
    )


@dataclass(frozen=True, slots=True)
class Rule:
    """Which features are drawn how; the test "ELSE" takes those no other rule took."""

    test: str
    meaning: str
    symbol: Symbol


def by_rule(rules: tuple[Rule, ...]) -> str:
    """Write a renderer of rules."""
    listed = "".join(
        f'<rule key="{{rule-{i}}}" filter={quoteattr(rule.test)} '
        f'label={quoteattr(rule.meaning)} symbol="{i}"/>'
        for i, rule in enumerate(rules)
    )
    symbols = "".join(symbol_element(str(i), rule.symbol) for i, rule in enumerate(rules))
    return (
        '<renderer-v2 type="RuleRenderer" symbollevels="1" enableorderby="0" forceraster="0">'
        f'<rules key="{{root}}">{listed}</rules><symbols>{symbols}</symbols></renderer-v2>'
    )


def document(renderer: str, label: Label | None = None) -> str:
    """Put a renderer and a label together as a style file."""
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        f'<qgis version="3.4.0" labelsEnabled="{int(label is not None)}" '
        'styleCategories="Symbology|Labeling">'
        f"{renderer}{_labeling(label) if label else ''}"
        "<layerOpacity>1</layerOpacity></qgis>"
    )


def _labeling(label: Label) -> str:
    """Write where and how labels stand: haloed, and never one on top of another."""
    placement = {"over": 1, "along": 2, "around": 6}[label.where]  # the program's own numbers
    weight = 75 if label.bold else 50
    return (
        '<labeling type="simple"><settings calloutType="simple">'
        f'<text-style fieldName={quoteattr(label.expression)} isExpression="1" '
        f'fontSize="{label.size_pt:g}" fontSizeUnit="Point" fontWeight="{weight}" '
        f'textColor="{colour(label.colour)}" textOpacity="1" fontFamily="Sans Serif">'
        '<text-buffer bufferDraw="1" bufferSize="0.8" bufferSizeUnits="MM" '
        'bufferColor="255,255,255,255" bufferOpacity="1"/></text-style>'
        f'<placement placement="{placement}" dist="1.7" distUnits="MM" '
        'placementFlags="10" predefinedPositionOrder="TR,BR,R,TL,BL,L,T,B"/>'
        '<rendering obstacle="0" displayAll="0" drawLabels="1"/>'
        "</settings></labeling>"
    )

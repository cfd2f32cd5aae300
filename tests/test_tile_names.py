"""On the map of the whole each detail sheet's letter stands where no other sheet reaches."""

import itertools

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from shapely.geometry import Polygon, box

from layout.outputs.crew import tile_names
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.map_window import Window

WHOLE = Window(0.0, 0.0, 800.0, 500.0, 8.0, 5.0)


def written(tiles: list[Window], taken: list[Window]) -> dict[str, Polygon]:
    """Give where letters are written, grid metres, on a map of which some places are taken."""
    figure = Figure(figsize=(8, 5), dpi=144)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 800), ylim=(0, 500))
    labels = PlainLabels(axes, FigureCanvasAgg(figure))
    for one in taken:
        low, high = axes.transData.transform([(one.west, one.south), (one.east, one.north)])
        labels.keep(*low, *high)
    tile_names.write(labels, WHOLE, tiles)
    to_ground = axes.transData.inverted().transform
    return {
        text.get_text(): box(*np.ravel(to_ground(text.get_window_extent().get_points())))
        for text in axes.texts
    }


def tile(west: float, south: float, width: float = 300.0, height: float = 200.0) -> Window:
    return Window(west, south, west + width, south + height, width / 100, height / 100)


def ground(one: Window) -> Polygon:
    return box(one.west, one.south, one.east, one.north)


@pytest.mark.parametrize("overlap", [0.0, 20.0, 80.0])
def test_a_letter_stands_on_its_own_sheet_alone(overlap: float) -> None:
    steps = itertools.product((0, 1), (0, 1, 2))
    tiles = [tile(10 + k * (300 - overlap), 20 + n * (200 - overlap)) for n, k in steps]
    there = written(tiles, [])
    assert sorted(there) == [f"sheet {letter}" for letter in "ABCDEF"]
    whole = ground(WHOLE)
    for number, one in enumerate(tiles):
        name = there[f"sheet {'ABCDEF'[number]}"]
        assert ground(one).intersection(whole).covers(name)
        assert not any(ground(o).intersects(name) for k, o in enumerate(tiles) if k != number)


def test_a_letter_goes_where_nothing_else_is_written_on_its_own_ground() -> None:
    tiles = [tile(10, 20), tile(290, 20)]
    taken = [tile(12, 22, 276, 100), tile(12, 150, 100, 60)]
    there = written(tiles, taken)
    assert ground(tile(10, 20, 280)).covers(there["sheet A"])
    assert not any(ground(one).intersects(there["sheet A"]) for one in taken)


def test_a_sheet_that_others_cover_wholly_has_its_letter_on_it_all_the_same() -> None:
    tiles = [tile(10, 20), tile(200, 20), tile(120, 20)]
    there = written(tiles, [])
    assert ground(tiles[2]).covers(there["sheet C"])
    assert written([tile(900, 900)], []) == {}
    assert written([tile(10, 20)], [tile(1, 1, 798, 498)]) == {}

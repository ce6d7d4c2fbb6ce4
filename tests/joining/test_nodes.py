"""The graph of the overlaps: who may take what, and what is kept together."""

from __future__ import annotations

import numpy as np

from colormatch.joining import costs
from colormatch.joining.nodes import Nodes, allowed_tiles, make_graph, make_nodes
from colormatch.joining.records import pairs_of
from colormatch.joining.regions import place_regions
from colormatch.model import KeptRegion, Regions
from tests.joining.scenes import (
    MM,
    STEP,
    XYZ_FROM_RGB,
    Array,
    Canvas,
    canvas_of,
    disc,
    ground,
    side_by_side,
)


def scene() -> Canvas:
    """Paint a disc in the overlap, one across its left border, and a ground larger than both."""
    light = ground(np.random.default_rng(1), 800, 1600)
    light = disc(light, 850, 250, 90, (0.1, 0.05, 0.3))
    light = disc(light, 600, 600, 90, (0.6, 0.3, 0.1))
    return canvas_of(side_by_side(light, (600, 1100)))


def nodes_of(canvas: Canvas, regions: Regions, wrong: list[Array]) -> Nodes:
    lab = costs.blended_lab(canvas.grid, canvas.tiles, canvas.nothing, XYZ_FROM_RGB)
    placed = place_regions(canvas.grid, canvas.tiles, regions)
    return make_nodes(canvas.grid, canvas.tiles, placed, lab, [w > 0 for w in wrong])


def test_only_tiles_that_show_a_place_with_a_margin_may_be_taken() -> None:
    canvas = scene()
    polygon = ((900.0, 300.0), (1000.0, 300.0), (1000.0, 400.0), (900.0, 400.0))
    keep = KeptRegion(
        tile="tile1.tif", polygon=tuple((x * MM, y * MM) for x, y in polygon), where="keep 1"
    )
    placed = place_regions(canvas.grid, canvas.tiles, Regions(keep=(keep,)))
    allowed = allowed_tiles(canvas.grid, canvas.tiles, placed)
    middle = allowed[20]
    assert (middle[: 600 // STEP] == 1).all()
    # The right tile's outermost grid pixel is left to the left tile.
    assert middle[600 // STEP] == 1
    assert (middle[600 // STEP + 2 : 1100 // STEP - 3] == 3).all()
    assert (middle[1100 // STEP :] == 2).all()
    assert (allowed[340 // STEP, 920 // STEP : 980 // STEP] == 2).all()


def test_a_disc_is_one_node_and_the_ground_is_many() -> None:
    canvas = scene()
    nodes = nodes_of(canvas, Regions(), canvas.nothing)
    inner = nodes.number[200 // STEP : 300 // STEP, 800 // STEP : 900 // STEP]
    assert np.ptp(inner) == 0
    assert nodes.may[inner[0, 0]].tolist() == [True, True]
    across = nodes.number[560 // STEP : 640 // STEP, 560 // STEP : 640 // STEP]
    assert np.ptp(across) == 0
    assert nodes.may[across[0, 0]].tolist() == [True, False]
    grounded = np.unique(nodes.number[400 // STEP, 650 // STEP : 1050 // STEP])
    assert len(grounded) > 5
    assert nodes.may.any(axis=1).all()


def test_an_element_that_is_wrong_in_one_tile_is_left_to_the_other() -> None:
    canvas = scene()
    wrong = canvas.nothing
    wrong[1][200 // STEP : 300 // STEP, (800 - 600) // STEP : (900 - 600) // STEP] = 1
    nodes = nodes_of(canvas, Regions(), wrong)
    assert nodes.may[nodes.number[250 // STEP, 850 // STEP]].tolist() == [True, False]


def test_costs_of_pixels_add_up_to_those_of_the_graph() -> None:
    canvas = scene()
    nodes = nodes_of(canvas, Regions(), canvas.nothing)
    lab = costs.blended_lab(canvas.grid, canvas.tiles, canvas.nothing, XYZ_FROM_RGB)
    taking = [np.ones_like(tile.edge_distance) for tile in canvas.tiles]
    meetings = [
        costs.meeting(canvas.tiles, pair, 0.0, XYZ_FROM_RGB) for pair in pairs_of(canvas.tiles)
    ]
    graph = make_graph(nodes, canvas.tiles, taking, meetings, lab, canvas.grid.pixel)
    assert graph.data.sum(axis=0).tolist() == [float(t.valid.sum()) for t in canvas.tiles]
    assert (graph.steps >= 0).all()
    assert (graph.steps[0, 0] == 0).all()
    assert (graph.steps[0, 1] == graph.steps[1, 0]).all()
    # Two tiles that agree cost at least the length's own price where they meet,
    # less what an edge may save.
    least = (costs.LENGTH - costs.ALONG_EDGE) * canvas.grid.pixel
    assert graph.steps[0, 1].min() >= least * 0.999

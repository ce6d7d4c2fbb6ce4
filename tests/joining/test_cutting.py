"""Cuts against trying every choice."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from colormatch.joining.cutting import Graph, solve


def random_graph(rng: np.random.Generator, nodes: int, tiles: int) -> Graph:
    """Make a graph whose steps are distances between invented colours, as true ones are."""
    pairs = [(i, j) for i in range(nodes) for j in range(i + 1, nodes) if rng.random() < 0.5]
    edges = np.array(pairs or [(0, 1)])
    colours = rng.normal(size=(len(edges), tiles, 3))
    steps = np.linalg.norm(colours[:, :, None] - colours[:, None], axis=-1)
    may = rng.random((nodes, tiles)) < 0.7
    may[np.arange(nodes), rng.integers(0, tiles, nodes)] = True
    return Graph(
        may=may,
        data=rng.uniform(0, 2, (nodes, tiles)),
        edges=edges,
        steps=np.moveaxis(steps, 0, -1),
    )


def least(graph: Graph) -> float:
    choices = product(*(np.flatnonzero(row) for row in graph.may))
    return min(graph.cost(np.array(choice)) for choice in choices)


@pytest.mark.parametrize("seed", range(30))
def test_two_tiles_are_cut_at_the_least_cost(seed: int) -> None:
    graph = random_graph(np.random.default_rng(seed), 9, 2)
    labels = solve(graph)
    assert graph.may[np.arange(9), labels].all()
    # Costs are rounded to a thousandth each before they are cut.
    assert graph.cost(labels) <= least(graph) + 0.001 * (len(graph.edges) + 9)


def test_more_tiles_come_close_to_the_least_cost() -> None:
    excess = []
    for seed in range(30):
        graph = random_graph(np.random.default_rng(100 + seed), 7, 4)
        labels = solve(graph)
        assert graph.may[np.arange(7), labels].all()
        excess.append(graph.cost(labels) / least(graph))
    # Guaranteed is a factor of two (Boykov, Veksler and Zabih, theorem 6.1).
    assert max(excess) < 1.2
    assert np.mean(excess) < 1.02


def test_a_graph_without_edges_takes_the_cheapest_tile() -> None:
    data = np.array([[3.0, 1.0, 2.0], [0.0, 5.0, 5.0]])
    graph = Graph(
        may=np.ones((2, 3), dtype=bool),
        data=data,
        edges=np.zeros((0, 2), dtype=int),
        steps=np.zeros((3, 3, 0)),
    )
    assert solve(graph).tolist() == [1, 0]

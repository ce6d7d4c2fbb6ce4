"""Which tile each node of a graph is taken from, at the least total cost.

With two tiles one minimum cut is exact. With more, each tile in turn is offered
to all nodes at once, as long as that lowers the cost: expansion moves after
Y. Boykov, O. Veksler and R. Zabih, "Fast approximate energy minimization via
graph cuts", IEEE TPAMI 23(11), 2001.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.records import BoolArray
from colormatch.model import FloatArray

FINENESS = 1000.0
"""Costs are cut to this share of a unit, as the solver takes whole numbers."""
CEILING = 1e9
"""Sum of all costs, in those whole numbers, that surely does not overflow."""
MOST_ROUNDS = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class Graph:
    """What is to be decided.

    Attributes
    ----------
    may : ndarray of bool, shape (N, T)
        Which tiles a node may be taken from; at least one each.
    data : ndarray of shape (N, T)
        Cost of taking a node from a tile, 0 or more; not used where it may not.
    edges : ndarray of int, shape (M, 2)
        Neighbouring nodes.
    steps : ndarray of shape (T, T, M)
        Cost of two tiles meeting between them; symmetric, 0 on the diagonal.
    """

    may: BoolArray
    data: FloatArray
    edges: NDArray[np.integer]
    steps: FloatArray

    def cost(self, labels: NDArray[np.integer]) -> float:
        """Total cost of a choice, one tile per node."""
        nodes = self.data[np.arange(len(labels)), labels].sum()
        one, other = labels[self.edges[:, 0]], labels[self.edges[:, 1]]
        return float(nodes + self.steps[one, other, np.arange(len(self.edges))].sum())


def solve(graph: Graph) -> NDArray[np.int64]:
    """Choose a tile for each node.

    Returns
    -------
    ndarray of int64, shape (N,)
        The least cost if there are two tiles; with more, no single tile could be
        offered to any set of nodes at less cost.
    """
    count = graph.may.shape[1]
    # From the last tile one expansion of the first reaches the optimum of two.
    labels = np.asarray(count - 1 - np.argmax(graph.may[:, ::-1], axis=1))
    cost = graph.cost(labels)
    for _ in range(MOST_ROUNDS):
        before = cost
        for tile in range(count):
            tried = _expanded(graph, labels, tile)
            tried_cost = graph.cost(tried)
            if tried_cost < cost:
                labels, cost = tried, tried_cost
        if count < 3 or cost >= before - 1e-9:
            break
    return labels


def _expanded(graph: Graph, labels: NDArray[np.int64], tile: int) -> NDArray[np.int64]:
    """Offer a tile to all nodes that may take it, and take the best set."""
    open_ = graph.may[:, tile] & (labels != tile)
    if not open_.any():
        return labels
    number = np.full(len(labels), -1)
    number[open_] = np.arange(open_.sum())
    keep = graph.data[open_, labels[open_]].astype(float)
    take = graph.data[open_, tile].astype(float)
    one, other = graph.edges[:, 0], graph.edges[:, 1]
    index = np.arange(len(graph.edges))
    kept = graph.steps[labels[one], labels[other], index]
    for near, far in ((one, other), (other, one)):
        lone = open_[near] & ~open_[far]
        at = number[near[lone]]
        keep += np.bincount(at, kept[lone], minlength=len(keep))
        met = graph.steps[tile, labels[far[lone]], index[lone]]
        take += np.bincount(at, met, minlength=len(take))
    both = open_[one] & open_[other]
    i, j = number[one[both]], number[other[both]]
    first = graph.steps[tile, labels[other[both]], index[both]]
    second = graph.steps[labels[one[both]], tile, index[both]]
    # Cost 0 where both take it, `kept` where neither does: split into a part on one
    # node and a part between them.
    keep += np.bincount(i, second, minlength=len(keep))
    keep += np.bincount(j, kept[both] - second, minlength=len(keep))
    between = np.maximum(first + second - kept[both], 0)
    taken = _minimum_cut(keep, take, i, j, between)
    changed = labels.copy()
    changed[np.flatnonzero(open_)[taken]] = tile
    return changed


def _minimum_cut(
    keep: FloatArray,
    take: FloatArray,
    one: NDArray[np.integer],
    other: NDArray[np.integer],
    between: FloatArray,
) -> BoolArray:
    """Tell which nodes take: cost ``between`` where the first takes and the other keeps."""
    from scipy.sparse import coo_array, csr_array
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    count = len(keep)
    gap = keep - take
    total = np.abs(gap).sum() + between.sum()
    scale = min(FINENESS, CEILING / max(total, 1e-12))
    whole = np.round(np.abs(gap) * scale).astype(np.int32)
    nodes = np.arange(count)
    # On the source's side nodes take.
    takes, keeps = gap > 0, gap < 0
    start = np.concatenate([np.full(takes.sum(), count), nodes[keeps], one])
    end = np.concatenate([nodes[takes], np.full(keeps.sum(), count + 1), other])
    capacity = np.concatenate(
        [whole[takes], whole[keeps], np.round(between * scale).astype(np.int32)]
    )
    size = (count + 2, count + 2)
    network = csr_array(coo_array((capacity, (start, end)), shape=size))
    flow = maximum_flow(network, count, count + 1).flow
    left = csr_array(network - flow)
    left.eliminate_zeros()
    reached, _ = breadth_first_order(left, count)
    side = np.zeros(count + 2, dtype=bool)
    side[reached] = True
    return side[:count]

"""The tree of columns that shapes share: a path through it is a shape.

Rows of Cholesky's triangle depend on the columns before them only, so shapes that begin with the same columns share
them. Everything here depends on the shapes alone, and is worked out once for them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Column, Shape
from firstlift.core.lift.moments import SumPlan, plan_sums
from firstlift.core.recording import Floats

Rows = NDArray[np.intp] | slice


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """Nodes of the tree at one depth, N of them: which ``rows`` they are among all, and the ``column`` each adds.

    ``above`` are the nodes over them, outermost first; ``gram`` the products of their column with each of those
    nodes' columns, and last with itself. ``tested`` says whose coefficient along the path must have the right sign
    where a shape ends; ``late`` of which of the nodes whose coefficient must have it as well, in pairs.
    """

    rows: slice
    column: NDArray[np.intp]
    above: tuple[Rows, ...]
    gram: tuple[NDArray[np.intp], ...]
    tested: NDArray[np.intp]
    late: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """Columns and products of one side of the bend, and the sums for them.

    Sums are, for each column, with one, with the distance from the bend and with the rest; then the products.
    """

    columns: slice
    products: slice
    sums: SumPlan


@dataclass(frozen=True, slots=True, eq=False)
class Tree:
    """What a set of shapes asks for, worked out once for it.

    ``first`` and ``second`` are the columns of all products, those of one side before those across the bend, which
    never act on the same sample. ``shapes`` are sorted by how many columns they have, ``number`` (S,) is their place
    among those handed in and ``gain`` (S,) whose column, in the shape's own order, is the change of slope.
    ``path`` (D, S) are the nodes each passes through and ``along`` (D, S) those nodes' columns, filled up with the
    node and the column after the last, which are zero; ``end`` (S,) is each path's last node; ``own`` (D, S) says
    where along the path each of a shape's columns, in its own order, lies.

    Which columns are what: ``powers`` (h,) after the bend, highest first and none left out (the empty last column
    stands for what no shape has); ``fading`` (f,) the exponentials, with their ``side`` (1 after the bend, else
    -1), ``rate`` and ``factor``; and the ``others``.
    """

    columns: tuple[Column, ...]
    sides: tuple[Side, ...]
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    levels: tuple[Level, ...]
    nodes: int
    shapes: tuple[Shape, ...]
    number: NDArray[np.intp]
    gain: NDArray[np.intp]
    path: NDArray[np.intp]
    along: NDArray[np.intp]
    end: Rows
    own: NDArray[np.intp]
    powers: NDArray[np.intp]
    fading: NDArray[np.intp]
    side: Floats
    rate: Floats
    factor: Floats
    others: tuple[int, ...]


@lru_cache(maxsize=64)
def plan_tree(shapes: tuple[Shape, ...]) -> Tree:
    """Lay out the tree of some shapes, and the sums of products that it needs.

    Parameters
    ----------
    shapes : tuple of Shape

    Returns
    -------
    Tree
    """
    number = sorted(range(len(shapes)), key=lambda index: len(shapes[index].columns))
    shapes = tuple(shapes[index] for index in number)
    # the columns before the bend, then those after it
    columns = sorted(dict.fromkeys(column for shape in shapes for column in shape.columns), key=lambda c: c.after)
    column_of = {column: place for place, column in enumerate(columns)}
    routes = [tuple(sorted(shape.columns, key=_order)) for shape in shapes]
    depths = _depths(routes)
    node_of = {route: node for node, route in enumerate(route for depth in depths for route in depth)}
    pairs = _pairs(node_of)
    pair_of = {pair: place for place, pair in enumerate(pairs)}
    sides: list[Side] = []
    for after in (False, True):
        own = [column for column in columns if column.after == after]
        together = [(a, b) for a, b in pairs if a.after == b.after == after]
        sums = [(column, with_it) for with_it in (Column(after), Column(after, power=1), None) for column in own]
        if own:
            its = slice(column_of[own[0]], column_of[own[-1]] + 1)
            products = slice(pair_of[together[0]], pair_of[together[-1]] + 1)
            sides.append(Side(its, products, plan_sums([*sums, *together])))
    ends = [node_of[route] for route in routes]
    levels = _levels(depths, dict(zip(routes, shapes, strict=True)), column_of, pair_of)
    path, along, own_of = np.empty((3, len(depths), len(shapes)), dtype=np.intp)
    path[:], along[:], own_of[:] = len(node_of), len(columns), 0
    for index, (shape, route) in enumerate(zip(shapes, routes, strict=True)):
        for depth, column in enumerate(route):
            path[depth, index], along[depth, index] = node_of[route[: depth + 1]], column_of[column]
            own_of[depth, index] = route.index(shape.columns[depth])
    powers = {column.power: column_of[column] for column in columns if column.after and column.power}
    fading = [column for column in columns if column.rate]
    return Tree(
        tuple(columns),
        tuple(sides),
        np.array([column_of[a] for a, _ in pairs]),
        np.array([column_of[b] for _, b in pairs]),
        levels,
        len(node_of),
        shapes,
        np.array(number),
        np.array([shape.gain for shape in shapes]),
        path,
        along,
        _rows(ends) if len(set(ends)) == len(ends) else np.array(ends),
        own_of,
        np.array([powers.get(p, len(columns)) for p in range(max(powers, default=0), 0, -1)], dtype=np.intp),
        np.array([column_of[column] for column in fading], dtype=np.intp),
        np.array([1.0 if column.after else -1.0 for column in fading]),
        np.array([column.rate for column in fading]),
        np.array([column.factor for column in fading]),
        tuple(column_of[c] for c in columns if not c.rate and not (c.after and c.power)),
    )


def _levels(
    depths: list[list[_Route]],
    ending: dict[_Route, Shape],
    column_of: dict[Column, int],
    pair_of: dict[tuple[Column, Column], int],
) -> tuple[Level, ...]:
    """Number what the nodes of each depth need; ``ending`` are the shapes whose path ends at a node."""
    node_of = {route: node for node, route in enumerate(route for depth in depths for route in depth)}
    levels: list[Level] = []
    for nodes in depths:
        late = [
            (place, route.index(ending[route].columns[ending[route].gain + 1]))
            for place, route in enumerate(nodes)
            if route in ending and ending[route].relax is not None
        ]
        levels.append(
            Level(
                slice(node_of[nodes[0]], node_of[nodes[-1]] + 1),
                np.array([column_of[route[-1]] for route in nodes]),
                tuple(_rows([node_of[route[:n]] for route in nodes]) for n in range(1, len(nodes[0]))),
                tuple(np.array([pair_of[route[n], route[-1]] for route in nodes]) for n in range(len(nodes[0]))),
                np.array([_tested(ending[route], route) if route in ending else 0 for route in nodes]),
                tuple(late),
            )
        )
    return tuple(levels)


def _rows(numbers: list[int]) -> Rows:
    """Pick rows, without a copy where they follow each other, or where one stands for all by broadcasting."""
    first = numbers[0]
    if len(set(numbers)) == 1:
        return slice(first, first + 1)
    return slice(first, numbers[-1] + 1) if numbers == list(range(first, numbers[-1] + 1)) else np.array(numbers)


_Route = tuple[Column, ...]


def _order(column: Column) -> tuple[bool, bool, bool, int]:
    """Sort columns along a path: what most shapes begin with comes first, steps and exponentials last."""
    return column.rate != 0.0, column.power == 0, not column.after, column.power


def _depths(routes: list[_Route]) -> list[list[_Route]]:
    """List the nodes of every depth: those where a path ends first, in the order of the paths."""
    deepest = max(map(len, routes))
    ends = [[route for route in routes if len(route) == depth] for depth in range(1, deepest + 1)]
    through = [[route[:depth] for route in routes if len(route) > depth] for depth in range(1, deepest + 1)]
    return [list(dict.fromkeys((*first, *others))) for first, others in zip(ends, through, strict=True)]


def _pairs(routes: Iterable[_Route]) -> list[tuple[Column, Column]]:
    """List the pairs of columns that meet on a path: before the bend, after it, then those across it."""
    pairs = list(dict.fromkeys((above, route[-1]) for route in routes for above in route))
    return sorted(pairs, key=lambda pair: (pair[0].after != pair[1].after, pair[0].after))


def _tested(shape: Shape, route: _Route) -> int:
    """Say where along a path the column lies whose coefficient must have the right sign.

    Where the value may jump it must jump the right way, else the slope must change the right way.
    """
    return route.index(shape.columns[shape.jump if shape.step else shape.gain])

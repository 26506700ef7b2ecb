"""Compiled loops over one tile and over what tiles tell each other: passes, level ground, sums, ways to a stream."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from prospect.hydrology._kernels import find_root

# Direction codes: 0 east, 1 south-east, 2 south, ... 7 north-east, as steepest descent looks; -1 the flow ends,
# -2 unknown.


@njit(cache=True, nogil=True)
def terminal_tree(sequence, height, one, other, terminal, top, first, second):  # type: ignore[no-untyped-def]
    """Write passes between terminals alone that are as low as the best ways between them; return their number.

    `sequence` runs from low to high. `terminal` holds for each basin its own label where it is one, else -1.
    """
    parent = np.arange(terminal.size)
    stands_for = terminal.copy()
    number = 0
    for at in sequence:
        a, b = find_root(parent, one[at]), find_root(parent, other[at])
        if a == b:
            continue
        if stands_for[a] >= 0 and stands_for[b] >= 0:
            top[number] = height[at]
            first[number] = stands_for[a]
            second[number] = stands_for[b]
            number += 1
        parent[b] = a
        if stands_for[a] < 0:
            stands_for[a] = stands_for[b]
    return number


@njit(cache=True, nogil=True)
def way_codes(downstream, known, cols, codes):  # type: ignore[no-untyped-def]
    """Write the code of each cell's direction from the flat index that it drains to."""
    for cell in range(downstream.size):
        below = downstream[cell]
        if not known[cell]:
            codes[cell] = -2
        elif below < 0:
            codes[cell] = -1
        else:
            down = below // cols - cell // cols
            right = below % cols - cell % cols
            if down == 0:
                codes[cell] = 0 if right > 0 else 4
            elif down > 0:
                codes[cell] = 2 - right
            else:
                codes[cell] = 6 + right


@njit(cache=True, nogil=True)
def level_distances(z, known, sources, steps, queue):  # type: ignore[no-untyped-def]
    """Lower `steps` to one more than the least of the equally high neighbours', breadth first.

    `sources` are the cells whose steps are given, from few to many; `queue` has room for every cell.
    """
    rows, cols = z.shape
    flat = steps.ravel()
    given, head, tail = 0, 0, 0
    while given < sources.size or head < tail:
        if head == tail or (given < sources.size and flat[sources[given]] <= flat[queue[head]]):
            cell = sources[given]
            given += 1
        else:
            cell = queue[head]
            head += 1
        i, j = cell // cols, cell % cols
        following = flat[cell] + 1
        for k in range(8):
            r, c = i + (0, 1, 0, -1, 1, 1, -1, -1)[k], j + (1, 0, -1, 0, 1, -1, -1, 1)[k]
            if r < 0 or r >= rows or c < 0 or c >= cols or not known[r, c]:
                continue
            if steps[r, c] > following and z[r, c] == z[i, j]:
                steps[r, c] = following
                queue[tail] = r * cols + c
                tail += 1


@njit(cache=True, nogil=True)
def point_level(z, known, steps, at_edge, codes):  # type: ignore[no-untyped-def]
    """Point level cells at the first neighbour, straight ones first, that is one step nearer to a way down.

    `at_edge` is the count of steps that cells at the edge of a level without a way down begin with.
    """
    rows, cols = z.shape
    for i in range(rows):
        for j in range(cols):
            if codes[i, j] != -1 or not known[i, j] or steps[i, j] == at_edge:
                continue
            for k in range(8):
                r, c = i + (0, 1, 0, -1, 1, 1, -1, -1)[k], j + (1, 0, -1, 0, 1, -1, -1, 1)[k]
                if r < 0 or r >= rows or c < 0 or c >= cols or not known[r, c]:
                    continue
                if z[r, c] == z[i, j] and steps[r, c] == steps[i, j] - 1:
                    codes[i, j] = (0, 2, 4, 6, 1, 3, 5, 7)[k]
                    break


@njit(cache=True, nogil=True)
def cells_below(codes, downstream, leaves):  # type: ignore[no-untyped-def]
    """Write the cell of the tile that each drains to, else -1, and the code by which it leaves the tile, else -1."""
    rows, cols = codes.shape
    for i in range(rows):
        for j in range(cols):
            cell, k = i * cols + j, codes[i, j]
            downstream[cell] = -1
            leaves[cell] = -1
            if k < 0:
                continue
            r, c = i + (0, 1, 1, 1, 0, -1, -1, -1)[k], j + (1, 1, 0, -1, -1, -1, 0, 1)[k]
            if r < 0 or r >= rows or c < 0 or c >= cols:
                leaves[cell] = k
            else:
                downstream[cell] = r * cols + c


@njit(cache=True, nogil=True)
def last_cells(order, downstream, last):  # type: ignore[no-untyped-def]
    """Write the last cell of the tile on each cell's way down."""
    for at in range(order.size - 1, -1, -1):
        cell = order[at]
        below = downstream[cell]
        last[cell] = cell if below < 0 else last[below]


@njit(cache=True, nogil=True)
def sum_along(following, waiting, values):  # type: ignore[no-untyped-def]
    """Add each node's values to those of the node that follows it, from the sources on; return how many were met.

    `waiting` comes in as nought. `values` is (nodes, sums).
    """
    for node in range(following.size):
        if following[node] >= 0:
            waiting[following[node]] += 1
    met = 0
    for start in range(following.size):
        if waiting[start] != 0:
            continue
        node = start
        while True:
            waiting[node] = -1
            met += 1
            below = following[node]
            if below < 0:
                break
            for k in range(values.shape[1]):
                values[below, k] += values[node, k]
            waiting[below] -= 1
            if waiting[below] != 0:
                break
            node = below
    return met


@njit(cache=True, nogil=True)
def follow_to_channel(order, codes, channels, z, cell_m, first_cell, all_cols, reached, distance, base):  # type: ignore[no-untyped-def]
    """Write the channel cell, a flat index of the whole grid, that each cell drains to, its height and the way there.

    `order` and `z` are of the tile; the other arrays have a frame of one cell with what is known around it. -1 = no
    channel, -2 = not known.
    """
    cols = codes.shape[1]
    flat_codes, flat_channels = codes.ravel(), channels.ravel()
    flat_reached, flat_distance, flat_base = reached.ravel(), distance.ravel(), base.ravel()
    slant = cell_m * math.sqrt(2.0)
    for at in range(order.size - 1, -1, -1):
        i, j = order[at] // (cols - 2), order[at] % (cols - 2)
        cell = (i + 1) * cols + j + 1
        if flat_channels[cell]:
            flat_reached[cell] = first_cell + i * all_cols + j
            flat_distance[cell] = 0.0
            flat_base[cell] = z[i, j]
            continue
        k = flat_codes[cell]
        if k < 0:
            flat_reached[cell] = -1
            continue
        below = cell + (0, 1, 1, 1, 0, -1, -1, -1)[k] * cols + (1, 1, 0, -1, -1, -1, 0, 1)[k]
        flat_reached[cell] = flat_reached[below]
        if flat_reached[below] >= 0:
            step = slant if k % 2 == 1 else cell_m
            flat_distance[cell] = np.float32(np.float64(flat_distance[below]) + step)
            flat_base[cell] = flat_base[below]


@njit(cache=True, nogil=True)
def ways_through(rim, codes, reached, place, halo_place, rim_place, below, slant):  # type: ignore[no-untyped-def]
    """Write the cells on ways from the rim that cross a tile without a channel, each after the one below; count them.

    `rim` holds cells of the frame array. `place` comes in as -1. `below` gets the place of the cell below in the
    list, or -1 - its place in the halo, `rim_place` the place of each cell of the rim, -1 = it does not cross.
    """
    cols = codes.shape[1]
    flat_codes, flat_reached, flat_halo = codes.ravel(), reached.ravel(), halo_place.ravel()
    stack = np.empty(codes.size, np.int32)
    number = 0
    for at in range(rim.size):
        cell, depth = rim[at], 0
        rim_place[at] = -1
        if flat_reached[cell] != -2:
            continue
        while flat_halo[cell] < 0 and place[cell] < 0:
            stack[depth] = cell
            depth += 1
            k = flat_codes[cell]
            cell += (0, 1, 1, 1, 0, -1, -1, -1)[k] * cols + (1, 1, 0, -1, -1, -1, 0, 1)[k]
        onward = -1 - flat_halo[cell] if flat_halo[cell] >= 0 else place[cell]
        while depth > 0:
            depth -= 1
            cell = stack[depth]
            below[number] = onward
            slant[number] = flat_codes[cell] % 2 == 1
            place[cell] = number
            onward = number
            number += 1
        rim_place[at] = place[rim[at]]
    return number


@njit(cache=True, nogil=True)
def follow_through(below, slant, cell_m, halo_reached, halo_distance, reached, distance):  # type: ignore[no-untyped-def]
    """Write channel cell and length of the way for the cells of `ways_through`, from what is known around the tile."""
    oblique = cell_m * math.sqrt(2.0)
    for at in range(below.size):
        onward = below[at]
        if onward >= 0:
            reached[at], beyond = reached[onward], distance[onward]
        else:
            reached[at], beyond = halo_reached[-1 - onward], halo_distance[-1 - onward]
        step = oblique if slant[at] else cell_m
        distance[at] = np.float32(np.float64(beyond) + step)


@njit(cache=True, nogil=True)
def strahler(order, downstream, channels, meeting, out):  # type: ignore[no-untyped-def]
    """Write Strahler's order on channel cells: two equal orders meeting make the next.

    `out` and `meeting` come in with the highest order that joins from other tiles and how many join with it.
    """
    for cell in order:
        if not channels[cell]:
            continue
        mine = max(1, out[cell] + (1 if meeting[cell] > 1 else 0))
        out[cell] = mine
        below = downstream[cell]
        if below < 0 or not channels[below]:
            continue
        if mine > out[below]:
            out[below] = mine
            meeting[below] = 1
        elif mine == out[below]:
            meeting[below] += 1


@njit(cache=True, nogil=True)
def join_from_around(codes, order_around, channels, out, meeting):  # type: ignore[no-untyped-def]
    """Write the highest order that joins each cell of a tile from the frame around it, and how many join with it.

    `codes` and `order_around` have a frame of one cell; `channels`, `out` and `meeting` do not.
    """
    rows, cols = codes.shape
    for i in range(rows):
        inner = i > 0 and i < rows - 1
        for j in range(cols):
            if inner and j > 0 and j < cols - 1:
                continue
            mine, k = order_around[i, j], codes[i, j]
            if mine < 1 or k < 0:
                continue
            r, c = i - 1 + (0, 1, 1, 1, 0, -1, -1, -1)[k], j - 1 + (1, 1, 0, -1, -1, -1, 0, 1)[k]
            if r < 0 or r >= rows - 2 or c < 0 or c >= cols - 2 or not channels[r, c]:
                continue
            if mine > out[r, c]:
                out[r, c] = mine
                meeting[r, c] = 1
            elif mine == out[r, c]:
                meeting[r, c] += 1


@njit(cache=True, nogil=True)
def fall_ahead(codes, z, steps, cell_m, out):  # type: ignore[no-untyped-def]
    """Write the mean fall along the flow over a number of steps, rise over run; NaN where the flow ends at once."""
    rows, cols = codes.shape
    side, slant = np.float32(cell_m), np.float32(cell_m * math.sqrt(2.0))
    for i in range(rows):
        for j in range(cols):
            out[i, j] = np.nan
            if codes[i, j] < 0:
                continue
            r, c = i, j
            way = 0.0
            for _ in range(steps):
                k = codes[r, c]
                if k < 0:
                    break
                below_r, below_c = r + (0, 1, 1, 1, 0, -1, -1, -1)[k], c + (1, 1, 0, -1, -1, -1, 0, 1)[k]
                if below_r < 0 or below_r >= rows or below_c < 0 or below_c >= cols:
                    break
                way += np.float64(slant if k % 2 == 1 else side)
                r, c = below_r, below_c
            if way > 0.0:
                fall = np.float64(z[i, j] - z[r, c]) / way
                out[i, j] = 0.0 if fall < 0.0 else fall

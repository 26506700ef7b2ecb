"""Compiled loops over a grid and its flow network: basins, spill levels, directions, sums along the flow."""

from __future__ import annotations

import heapq
import math

import numpy as np
from numba import njit

# Neighbours of a cell: row and column steps in the order east, south-east, south, ... north-east; the first
# four are those that come later in the grid.


@njit(cache=True, nogil=True)
def lowest_neighbours(z, known, edge, first, last, lead):  # type: ignore[no-untyped-def]
    """Write the index of the lowest neighbour that is lower, or level and earlier; its own when there is none.

    Cells at the edge lead nowhere (-1), unknown cells neither (-2). Rows from `first` up to `last`.
    """
    cols = z.shape[1]
    for i in range(first, last):
        for j in range(cols):
            here = i * cols + j
            if not known[i, j]:
                lead[here] = -2
                continue
            if edge[i, j]:
                lead[here] = -1
                continue
            # Not at the edge, so that all eight neighbours exist and are known.
            best, lowest = here, z[i, j]
            for di in range(-1, 2):
                for dj in range(-1, 2):
                    height = z[i + di, j + dj]
                    if height < lowest or (height == lowest and here + di * cols + dj < best):
                        best, lowest = here + di * cols + dj, height
            lead[here] = best


@njit(cache=True, nogil=True)
def label_basins(lead):  # type: ignore[no-untyped-def]
    """Turn leads into basin labels in place: 0 reaches the edge, 1.. a pit, -1 unknown; return the pits' number."""
    # A finished cell holds -3 - label; an open one still holds its lead.
    pits = 0
    for start in range(lead.size):
        if lead[start] == -2:
            continue
        cell = start
        while lead[cell] >= 0 and lead[cell] != cell:
            cell = lead[cell]
        if lead[cell] == cell:
            pits += 1
            done = -3 - pits
        elif lead[cell] == -1:
            done = -3
        else:
            done = lead[cell]
        cell = start
        while lead[cell] >= -1:
            following = lead[cell]
            lead[cell] = done
            if following < 0 or following == cell:
                break
            cell = following
    for cell in range(lead.size):
        lead[cell] = -1 if lead[cell] == -2 else -3 - lead[cell]
    return pits


@njit(cache=True, nogil=True)
def basin_passes(z, labels, basins, seen, slot, height, one, other):  # type: ignore[no-untyped-def]
    """Return how many passes lead from one basin to another; write those that there is room for.

    What is written is the height and both labels. `seen`, a power of two of -1, remembers the pairs met lately and
    `slot` where they were written, so that a pair that meets along a thousand cells is kept as one pass, the lowest. A
    pair may be kept more than once.
    """
    rows, cols = z.shape
    number = 0
    for i in range(rows):
        for j in range(cols):
            mine = labels[i, j]
            if mine < 0:
                continue
            for k in range(4):
                r, c = i + (0, 1, 1, 1)[k], j + (1, 1, 0, -1)[k]
                if r >= rows or c < 0 or c >= cols:
                    continue
                theirs = labels[r, c]
                if theirs < 0 or theirs == mine:
                    continue
                top = z[i, j] if z[i, j] > z[r, c] else z[r, c]
                low, high = (mine, theirs) if mine < theirs else (theirs, mine)
                pair = low * basins + high
                place = ((pair * 2654435761) >> 16) & (seen.size - 1)
                if seen[place] == pair:
                    if slot[place] < height.size and top < height[slot[place]]:
                        height[slot[place]] = top
                    continue
                seen[place] = pair
                slot[place] = number
                if number < height.size:
                    height[number] = top
                    one[number] = low
                    other[number] = high
                number += 1
    return number


@njit(cache=True, nogil=True)
def raise_basins(z, labels, levels, out):  # type: ignore[no-untyped-def]
    """Write each cell's height, or the level of its basin where that is higher; NaN where it is unknown."""
    for cell in range(z.size):
        if labels[cell] < 0:
            out[cell] = np.nan
        else:
            level = levels[labels[cell]]
            out[cell] = z[cell] if z[cell] > level else level


@njit(cache=True, nogil=True)
def find_root(parent, node):  # type: ignore[no-untyped-def]
    """Return the root of a node, halving the path on the way."""
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = parent[node]
    return node


@njit(cache=True, nogil=True)
def spill_levels(sequence, height, one, other, levels):  # type: ignore[no-untyped-def]
    """Write the lowest level at which each basin spills to basin 0, joining basins at their passes from low to high."""
    parent = np.arange(levels.size)
    ring = np.arange(levels.size)
    size = np.ones(levels.size, np.int32)
    for at in sequence:
        a, b = find_root(parent, one[at]), find_root(parent, other[at])
        if a == b:
            continue
        if a == 0 or b == 0:
            inland = a + b
            member = inland
            while True:
                levels[member] = height[at]
                member = ring[member]
                if member == inland:
                    break
            parent[inland] = 0
        else:
            if size[a] < size[b]:
                a, b = b, a
            parent[b] = a
            size[a] += size[b]
            ring[a], ring[b] = ring[b], ring[a]


@njit(cache=True, nogil=True)
def steepest_descent(z, known, first, last, downstream):  # type: ignore[no-untyped-def]
    """Write the neighbour of steepest descent, -1 where none is lower; return the number of those known cells.

    Rows from `first` up to `last`.
    """
    rows, cols = z.shape
    level = 0
    slant = 1.0 / math.sqrt(2.0)
    for i in range(first, last):
        inner_row = i > 0 and i < rows - 1
        for j in range(cols):
            downstream[i, j] = -1
            if not known[i, j]:
                continue
            here = np.float64(z[i, j])
            inner = inner_row and j > 0 and j < cols - 1
            steepest = 0.0
            for k in range(8):
                r, c = i + (0, 1, 1, 1, 0, -1, -1, -1)[k], j + (1, 1, 0, -1, -1, -1, 0, 1)[k]
                if not inner and (r < 0 or r >= rows or c < 0 or c >= cols):
                    continue
                # A height that is not known compares with nothing; one without end is masked.
                drop = here - np.float64(z[r, c])
                if k % 2 == 1:
                    drop *= slant
                if drop > steepest and known[r, c]:
                    steepest = drop
                    downstream[i, j] = r * cols + c
            if steepest == 0.0:
                level += 1
    return level


@njit(cache=True, nogil=True)
def shore_cells(z, level, downstream, queue):  # type: ignore[no-untyped-def]
    """Queue the level cells beside a cell of their height that has a way down, one step away; return their number.

    A level cell that was reached holds -2 less its steps to the way down until `point_level` gives it its neighbour.
    """
    rows, cols = z.shape
    tail = 0
    for i in range(rows):
        for j in range(cols):
            if not level[i, j]:
                continue
            for k in range(8):
                r, c = i + (0, 1, 0, -1, 1, 1, -1, -1)[k], j + (1, 0, -1, 0, 1, -1, -1, 1)[k]
                if r < 0 or r >= rows or c < 0 or c >= cols:
                    continue
                if not level[r, c] and downstream[r, c] >= 0 and z[r, c] == z[i, j]:
                    downstream[i, j] = -3
                    queue[tail] = i * cols + j
                    tail += 1
                    break
    return tail


@njit(cache=True, nogil=True)
def spread_level(z, level, downstream, queue, head, tail):  # type: ignore[no-untyped-def]
    """Breadth first, write to level cells not reached yet how many steps they are from those in the queue."""
    rows, cols = z.shape
    flat = downstream.ravel()
    while head < tail:
        cell = queue[head]
        head += 1
        i, j = cell // cols, cell % cols
        # A cell that the water ends in has no steps to go.
        next_code = min(flat[cell], -2) - 1
        for k in range(8):
            r, c = i + (0, 1, 0, -1, 1, 1, -1, -1)[k], j + (1, 0, -1, 0, 1, -1, -1, 1)[k]
            if r < 0 or r >= rows or c < 0 or c >= cols:
                continue
            if level[r, c] and downstream[r, c] == -1 and z[r, c] == z[i, j]:
                downstream[r, c] = next_code
                queue[tail] = r * cols + c
                tail += 1
    return tail


@njit(cache=True, nogil=True)
def point_level(z, level, downstream, queue):  # type: ignore[no-untyped-def]
    """Point every level cell that was reached at the first neighbour of its height that is one step nearer."""
    rows, cols = z.shape
    flat = downstream.ravel()
    # Farthest first: those it looks at still hold their steps.
    for at in range(queue.size - 1, -1, -1):
        cell = queue[at]
        if flat[cell] > -3:
            continue
        wanted = flat[cell] + 1
        i, j = cell // cols, cell % cols
        for k in range(8):
            r, c = i + (0, 1, 0, -1, 1, 1, -1, -1)[k], j + (1, 0, -1, 0, 1, -1, -1, 1)[k]
            if r < 0 or r >= rows or c < 0 or c >= cols or z[r, c] != z[i, j]:
                continue
            if (not level[r, c]) if wanted == -2 else (level[r, c] and downstream[r, c] == wanted):
                flat[cell] = r * cols + c
                break


@njit(cache=True, nogil=True)
def order_cells(downstream, mask, order):  # type: ignore[no-untyped-def]
    """Write every known cell after all cells that drain into it; return how many were written."""
    waiting = np.zeros(downstream.size, np.int8)
    for cell in range(downstream.size):
        if downstream[cell] >= 0:
            waiting[downstream[cell]] += 1
    written = 0
    for start in range(downstream.size):
        if mask[start] or waiting[start] != 0:
            continue
        cell = start
        while True:
            waiting[cell] = -1
            order[written] = cell
            written += 1
            cell = downstream[cell]
            if cell < 0:
                break
            waiting[cell] -= 1
            if waiting[cell] != 0:
                break
    return written


@njit(cache=True, nogil=True)
def accumulate_columns(order, downstream, values):  # type: ignore[no-untyped-def]
    """Add each cell's values to those of the cell below it, in place; `values` is (cells, sums)."""
    for cell in order:
        below = downstream[cell]
        if below >= 0:
            for column in range(values.shape[1]):
                values[below, column] += values[cell, column]


@njit(cache=True, nogil=True)
def touch_edge(order, downstream, edge, touches):  # type: ignore[no-untyped-def]
    """Mark every cell with a cell of the edge upstream of it, itself included."""
    for cell in order:
        if edge[cell]:
            touches[cell] = True
        below = downstream[cell]
        if below >= 0 and touches[cell]:
            touches[below] = True


@njit(cache=True, nogil=True)
def accumulate(order, downstream, cols, keep_side, keep_slant, values):  # type: ignore[no-untyped-def]
    """Add each cell's value to the cell below it, in place; a step keeps the given share of what passes."""
    whole = keep_side == 1.0 and keep_slant == 1.0
    for cell in order:
        below = downstream[cell]
        if below < 0:
            continue
        if whole:
            values[below] += values[cell]
        elif cell // cols != below // cols and cell % cols != below % cols:
            values[below] += keep_slant * values[cell]
        else:
            values[below] += keep_side * values[cell]


@njit(cache=True, nogil=True)
def follow_to_channel(order, downstream, channels, cols, cell_m, reached, distance):  # type: ignore[no-untyped-def]
    """Write the channel cell that each cell drains to (-1 = none) and the length of the way there."""
    slant = cell_m * math.sqrt(2.0)
    for at in range(order.size - 1, -1, -1):
        cell = order[at]
        below = downstream[cell]
        if channels[cell]:
            reached[cell] = cell
            distance[cell] = 0.0
        elif below >= 0 and reached[below] >= 0:
            oblique = cell // cols != below // cols and cell % cols != below % cols
            reached[cell] = reached[below]
            distance[cell] = distance[below] + (slant if oblique else cell_m)


@njit(cache=True, nogil=True)
def heights_and_ways(z, order, downstream, channels, cols, cell_m, height, distance):  # type: ignore[no-untyped-def]
    """Write how far each cell lies above the channel that it drains to, and along the way from it; NaN without one.

    Until the last cell of a way is done, `height` holds how high its channel lies.
    """
    slant = cell_m * math.sqrt(2.0)
    for at in range(order.size - 1, -1, -1):
        cell = order[at]
        below = downstream[cell]
        if channels[cell]:
            height[cell] = z[cell]
            distance[cell] = 0.0
        elif below >= 0:
            oblique = cell // cols != below // cols and cell % cols != below % cols
            height[cell] = height[below]
            distance[cell] = distance[below] + (slant if oblique else cell_m)
        else:
            height[cell] = np.nan
            distance[cell] = np.nan
    for cell in range(z.size):
        above = z[cell] - height[cell]
        height[cell] = np.float32(0.0) if above < 0.0 else above


@njit(cache=True, nogil=True)
def strahler(order, downstream, channels, out):  # type: ignore[no-untyped-def]
    """Write Strahler's order on channel cells: two equal orders meeting make the next."""
    meeting = np.zeros(out.size, np.int8)
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
def half_widths(floor, known, bank_rows, bank_cols):  # type: ignore[no-untyped-def]
    """Return in cells how far the floor reaches from its bank, on the line through each of its cells.

    A bank's own cell, and all that is not floor, holds half a cell; NaN where the line leaves what is known.
    """
    rows, cols = floor.shape
    out = np.full((rows, cols), 0.5, np.float32)
    for i in range(rows):
        for j in range(cols):
            down, right = i - bank_rows[i, j], j - bank_cols[i, j]
            length = math.sqrt(down * down + right * right)
            if not floor[i, j] or length == 0.0:
                continue
            reach = length
            while True:
                reach += 1.0
                # Halves go away from the bank, so that a mirrored ground is measured alike.
                step_down = math.floor(abs(down) * reach / length + 0.5)
                step_right = math.floor(abs(right) * reach / length + 0.5)
                r = bank_rows[i, j] + (step_down if down > 0 else -step_down)
                c = bank_cols[i, j] + (step_right if right > 0 else -step_right)
                if r < 0 or r >= rows or c < 0 or c >= cols or not known[r, c]:
                    out[i, j] = np.nan
                    break
                if not floor[r, c]:
                    out[i, j] = reach - 0.5
                    break
    return out


@njit(cache=True, nogil=True)
def breach(z, edge, known, pits, starts, most_cells, most_depth):  # type: ignore[no-untyped-def]
    """Lower the least dug way from each pit to lower ground or the edge to the pit's height; return the ways dug.

    Pit p is the level cells `pits[starts[p] : starts[p + 1]]`, and a way may begin at any of them. Ways are followed
    from the least digging to the most, of equal digging the shorter first. A cell is looked at again only by a
    shorter way, so that the limit of length never hides a way that holds to it.
    """
    cols = z.shape[1]
    flat = z.ravel()
    seen_by = np.full(z.size, -1, np.int32)
    fewest = np.empty(z.size, np.int32)
    dug = 0
    for number in range(starts.size - 1):
        level = flat[pits[starts[number]]]
        cells, before = [np.int64(0)], [np.int64(-1)]
        ways = [(0.0, np.int64(0), np.int64(0), np.int64(0))]
        cells.clear()
        before.clear()
        ways.clear()
        for place in range(starts[number], starts[number + 1]):
            # In order of the cells, so that the list is a heap as it stands.
            ways.append((0.0, np.int64(0), np.int64(pits[place]), np.int64(len(cells))))
            cells.append(np.int64(pits[place]))
            before.append(np.int64(-1))
        found = np.int64(-1)
        while len(ways) > 0:
            cost, steps, cell, label = heapq.heappop(ways)
            if seen_by[cell] == number and fewest[cell] <= steps:
                continue
            seen_by[cell] = number
            fewest[cell] = steps
            i, j = cell // cols, cell % cols
            if flat[cell] < level or edge[i, j]:
                found = label
                break
            if steps == most_cells:
                continue
            # Not at the edge, so that all eight neighbours exist and are known.
            for di in range(-1, 2):
                for dj in range(-1, 2):
                    r, c = i + di, j + dj
                    below = r * cols + c
                    if not known[r, c] or (seen_by[below] == number and fewest[below] <= steps + 1):
                        continue
                    depth = np.float64(z[r, c]) - np.float64(level)
                    if depth > most_depth:
                        continue
                    cells.append(below)
                    before.append(label)
                    heapq.heappush(ways, (cost + max(0.0, depth), steps + 1, below, np.int64(len(cells) - 1)))
        deeper = False
        while found >= 0:
            if flat[cells[found]] > level:
                flat[cells[found]] = level
                deeper = True
            found = before[found]
        dug += deeper
    return dug

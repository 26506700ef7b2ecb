"""Compiled loops over an elevation grid: gradients, curvatures, shade, neighbourhood sums, lines of sight."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def arctangent(x):  # type: ignore[no-untyped-def]
    """Return the arctangent in radians, within 5e-11: a polynomial, because the library call is not vectorised."""
    size = abs(x)
    t = size if size < 1.0 else 1.0 / size
    z = t * t
    s = 0.00482722767 + z * -0.000680497258678
    s = -0.0160551603217 + z * s
    s = 0.0341334224527 + z * s
    s = -0.0542153078854 + z * s
    s = 0.0724228411003 + z * s
    s = -0.0897905103697 + z * s
    s = 0.110929847847 + z * s
    s = -0.142839484209 + z * s
    s = 0.19999909957 + z * s
    s = -0.333333315182 + z * s
    s = 0.999999999939 + z * s
    angle = t * s
    angle = angle if size < 1.0 else 0.5 * math.pi - angle
    return angle if x >= 0.0 else -angle


@njit(cache=True, nogil=True, error_model="numpy")
def horn(above, row, below, j, per_8_cells):  # type: ignore[no-untyped-def]
    """Return the rise eastward and the rise southward at column j + 1 of three rows; unknown stays unknown."""
    a, b, c = above[j], above[j + 1], above[j + 2]
    d, f = row[j], row[j + 2]
    g, h, i = below[j], below[j + 1], below[j + 2]
    centre = 0.0 * row[j + 1]
    east = ((c - a) + 2.0 * (f - d) + (i - g)) * per_8_cells + centre
    south = ((g - a) + 2.0 * (h - b) + (i - c)) * per_8_cells
    return east, south


@njit(cache=True, nogil=True, error_model="numpy")
def slope_rows(z, cell_m, degrees, out):  # type: ignore[no-untyped-def]
    """Write Horn's slope in per cent or degrees; the outermost ring is left alone."""
    rows, cols = z.shape
    per_8_cells = 1.0 / (8.0 * cell_m)
    for i in range(rows - 2):
        above, row, below, target = z[i], z[i + 1], z[i + 2], out[i + 1, 1:]
        if degrees:
            for j in range(cols - 2):
                east, south = horn(above, row, below, j, per_8_cells)
                target[j] = arctangent(math.sqrt(east * east + south * south)) * (180.0 / math.pi)
        else:
            for j in range(cols - 2):
                east, south = horn(above, row, below, j, per_8_cells)
                target[j] = 100.0 * math.sqrt(east * east + south * south)


@njit(cache=True, nogil=True, error_model="numpy")
def shade_rows(z, cell_m, light, out):  # type: ignore[no-untyped-def]
    """Write 255 times the cosine between the ground's normal and the light, never below nought."""
    rows, cols = z.shape
    per_8_cells = 1.0 / (8.0 * cell_m)
    for i in range(rows - 2):
        above, row, below, target = z[i], z[i + 1], z[i + 2], out[i + 1, 1:]
        for j in range(cols - 2):
            east, south = horn(above, row, below, j, per_8_cells)
            facing = light[2] - east * light[0] + south * light[1]
            shade = 255.0 * facing / math.sqrt(1.0 + east * east + south * south)
            target[j] = 0.0 if shade < 0.0 else shade


@njit(cache=True, nogil=True, error_model="numpy")
def surface_rows(z, cell_m, light, slope, aspect, profile, plan, shade):  # type: ignore[no-untyped-def]
    """Write slope in per cent, compass aspect, profile and plan curvature and shade in one pass over the grid."""
    rows, cols = z.shape
    per_8_cells = 1.0 / (8.0 * cell_m)
    per_2_cells = 1.0 / (2.0 * cell_m)
    per_area = 1.0 / (cell_m * cell_m)
    for i in range(rows - 2):
        above, row, below = z[i], z[i + 1], z[i + 2]
        slope_out, aspect_out = slope[i + 1, 1:], aspect[i + 1, 1:]
        profile_out, plan_out, shade_out = profile[i + 1, 1:], plan[i + 1, 1:], shade[i + 1, 1:]
        for j in range(cols - 2):
            east, south = horn(above, row, below, j, per_8_cells)
            steepness = math.sqrt(east * east + south * south)
            slope_out[j] = 100.0 * steepness
            facing = light[2] - east * light[0] + south * light[1]
            bright = 255.0 * facing / math.sqrt(1.0 + east * east + south * south)
            shade_out[j] = 0.0 if bright < 0.0 else bright
            # Angle from the nearer axis, then unfolded to the compass: north 0, east 90.
            x, y = -east, south
            ax, ay = abs(x), abs(y)
            folded = arctangent(min(ax, ay) / max(ax, ay)) * (180.0 / math.pi)
            turn = folded if ax <= ay else 90.0 - folded
            turn = turn if y >= 0.0 else 180.0 - turn
            turn = turn if x >= 0.0 else 360.0 - turn
            aspect_out[j] = turn + 0.0 * steepness
        for j in range(cols - 2):
            a, b, c = above[j], above[j + 1], above[j + 2]
            d, e, f = row[j], row[j + 1], row[j + 2]
            g, h, k = below[j], below[j + 1], below[j + 2]
            bend_ew = (0.5 * ((d - e) + (f - e))) * per_area
            bend_ns = (0.5 * ((b - e) + (h - e))) * per_area
            twist = ((c - a) + (g - k)) * (0.25 * per_area)
            rise_e = (f - d) * per_2_cells
            rise_n = (b - h) * per_2_cells
            steep = rise_e * rise_e + rise_n * rise_n
            known = 0.0 * steep
            mixed = twist * rise_e * rise_n
            # Nought divided by nought is unknown, as it should be: level ground has no direction to bend along.
            profile_out[j] = (
                known - 2.0 * (bend_ew * rise_e * rise_e + bend_ns * rise_n * rise_n + mixed) / steep
            )
            plan_out[j] = (
                known - 2.0 * (bend_ew * rise_n * rise_n + bend_ns * rise_e * rise_e - mixed) / steep
            )


@njit(cache=True, nogil=True, error_model="numpy")
def pack_row(z, per_metre, bits, out):  # type: ignore[no-untyped-def]
    """Write each height as a whole number of small steps above a count of one; unknown cells as nought."""
    for j in range(z.size):
        whole = np.int64(round(np.float64(z[j]) * per_metre)) if z[j] == z[j] else np.int64(0)
        out[j] = (whole << bits) + np.int64(1 if z[j] == z[j] else 0)


@njit(cache=True, nogil=True, error_model="numpy")
def write_position(z, packed, around, per_metre, bits, least, out):  # type: ignore[no-untyped-def]
    """Write height less the mean of what lies around, from packed sums that hold the cells themselves."""
    steps_m = 1.0 / per_metre
    for j in range(z.size):
        rest = around[j] - packed[j]
        count = rest & ((np.int64(1) << bits) - np.int64(1))
        enough = count >= least and z[j] == z[j]
        mean = np.float64(rest >> bits) * steps_m / np.float64(max(count, np.int64(1)))
        out[j] = np.float32(np.float64(z[j]) - mean) if enough else np.float32(np.nan)


@njit(cache=True, nogil=True, error_model="numpy")
def square_position(z, reach, least, per_metre, bits, out, rest):  # type: ignore[no-untyped-def]
    """Write height less the mean of the other known cells in a square of side ``2 reach + 1``.

    Without bits for the count, the sums of the others go to `rest` instead.
    """
    rows, cols = z.shape
    sums = np.zeros(cols, np.int64)
    packed = np.empty(cols, np.int64)
    around = np.empty(cols, np.int64)
    for i in range(-reach, rows):
        if i + reach < rows:
            pack_row(z[i + reach], per_metre, bits, packed)
            for j in range(cols):
                sums[j] += packed[j]
        if i - reach - 1 >= 0:
            pack_row(z[i - reach - 1], per_metre, bits, packed)
            for j in range(cols):
                sums[j] -= packed[j]
        if i < 0:
            continue
        total = np.int64(0)
        for j in range(min(reach, cols)):
            total += sums[j]
        for j in range(cols):
            if j + reach < cols:
                total += sums[j + reach]
            if j - reach - 1 >= 0:
                total -= sums[j - reach - 1]
            around[j] = total
        pack_row(z[i], per_metre, bits, packed)
        if bits > 0:
            write_position(z[i], packed, around, per_metre, bits, least, out[i])
        else:
            for j in range(cols):
                rest[i, j] = around[j] - packed[j]


@njit(cache=True, nogil=True, error_model="numpy")
def add_chord(running, half, around):  # type: ignore[no-untyped-def]
    """Add the sums of one row from `half` cells before each cell to `half` cells after it."""
    # `running` is padded by as many cells as the longest chord reaches, so that no chord is cut here.
    before = running[: around.size]
    after = running[2 * half + 1 : 2 * half + 1 + around.size]
    for j in range(around.size):
        around[j] += after[j] - before[j]


@njit(cache=True, nogil=True, error_model="numpy")
def disk_position(z, halves, least, per_metre, bits, out, rest):  # type: ignore[no-untyped-def]
    """Write height less the mean of the other known cells in a disk; `halves` holds half the chord of each row.

    Without bits for the count, the sums of the others go to `rest` instead.
    """
    rows, cols = z.shape
    reach = halves.size // 2
    ring = np.zeros((halves.size, cols + 2 * reach + 1), np.int64)
    packed = np.empty(cols, np.int64)
    around = np.empty(cols, np.int64)
    for i in range(-reach, rows):
        entering = i + reach
        if entering < rows:
            running = ring[entering % halves.size]
            pack_row(z[entering], per_metre, bits, packed)
            total = np.int64(0)
            for j in range(cols):
                total += packed[j]
                running[reach + 1 + j] = total
            for j in range(reach):
                running[reach + 1 + cols + j] = total
        if i < 0:
            continue
        around[:] = 0
        for k in range(halves.size):
            r = i + k - reach
            if r >= 0 and r < rows:
                add_chord(ring[r % halves.size, reach - halves[k] :], halves[k], around)
        pack_row(z[i], per_metre, bits, packed)
        if bits > 0:
            write_position(z[i], packed, around, per_metre, bits, least, out[i])
        else:
            for j in range(cols):
                rest[i, j] = around[j] - packed[j]


@njit(cache=True, nogil=True, error_model="numpy")
def look(here, there, known, per_metre, up, down):  # type: ignore[no-untyped-def]
    """Keep the steepest look up and down from one row of cells to another, tangents; unknown cells are not seen."""
    for j in range(here.size):
        tangent = (there[j] - here[j]) * per_metre
        up[j] = tangent if known[j] and tangent > up[j] else up[j]
        down[j] = tangent if known[j] and tangent < down[j] else down[j]


@njit(cache=True, nogil=True, error_model="numpy")
def count_looks(up, down, flat_tangent, seen, higher, lower):  # type: ignore[no-untyped-def]
    """Count one direction as seen, as looking up or as looking down, and forget what was seen."""
    for j in range(up.size):
        has = up[j] >= down[j]
        # Tangent of the summed angles, cross-multiplied so that no angle is ever computed.
        both = up[j] + down[j]
        margin = flat_tangent * (1.0 - up[j] * down[j])
        seen[j] += has
        higher[j] += has and both > 0.0 and both > margin
        lower[j] += has and both < 0.0 and -both > margin
        up[j] = -1.0e30
        down[j] = 1.0e30


@njit(cache=True, nogil=True, error_model="numpy")
def sight_rows(z, known, steps, per_step, flat_tangent, forms, up, down, counts, out):  # type: ignore[no-untyped-def]
    """Write the landform of each cell from how many of eight lines of sight look up and how many look down.

    `steps` holds the row and column step and the number of steps of each direction, `per_step` one over the
    distance of each; `up` and `down` come in beyond any tangent, the three rows of counts as zeros.
    """
    rows, cols = z.shape
    seen, higher, lower = counts[0], counts[1], counts[2]
    for i in range(rows):
        for direction in range(steps.shape[0]):
            for step in range(1, steps[direction, 2] + 1):
                r, shift = i + steps[direction, 0] * step, steps[direction, 1] * step
                if r < 0 or r >= rows or abs(shift) >= cols:
                    break
                a, b = max(0, -shift), min(cols, cols - shift)
                there, visible = z[r, a + shift : b + shift], known[r, a + shift : b + shift]
                look(z[i, a:b], there, visible, per_step[direction, step], up[a:b], down[a:b])
            count_looks(up, down, flat_tangent, seen, higher, lower)
        for j in range(cols):
            if known[i, j] and seen[j] == steps.shape[0]:
                out[i, j] = forms[lower[j], higher[j]]
            seen[j] = 0
            higher[j] = 0
            lower[j] = 0

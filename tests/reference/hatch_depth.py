"""Screen depth of a square hatch by a spectral Galerkin method, independent of the program.

Half space z > 0 over a sheet of thin lines (width w, pitch p, potential 0) with square holes of side
a = p - w. By symmetry no field crosses the holes when it is the same from both sides; far away
phi = z + 2 depth, and 2 depth is the mean of phi over the sheet. In a hole phi is a sum of
c_mn sqrt(1-u^2) U_2m(u) sqrt(1-v^2) U_2n(v), u = 2x/a, v = 2y/a: zero on the lines, with the edge
behaviour of the field there. Galerkin's equations: for every function b', the sum over the waves k != 0 of
|k| b_k b'_k c is b'_0. Their solution c gives 2 depth = b_0 c from below. The transforms are Bessel functions; the sum over
waves is cut at K per direction and extrapolated, as it converges like 1/K.
"""

import numpy as np
from scipy.special import jv


def transforms(opening, size, waves):
    """Mean over the period 1 of sqrt(1-u^2) U_2m(u) cos(2 pi k x): a row per m < size, k <= waves."""
    t = np.pi * opening * np.arange(waves + 1)
    t[0] = 1.0
    rows = []
    for m in range(size):
        row = (-1) ** m * (2 * m + 1) * np.pi * jv(2 * m + 1, t) / t
        row[0] = np.pi / 2 if m == 0 else 0.0
        rows.append(row * opening / 2)
    return np.array(rows)


def hatch(share, size, waves):
    """Depth over pitch of a square hatch of width `share` of the pitch."""
    b = transforms(1 - share, size, waves)
    k = 2 * np.pi * np.arange(waves + 1)
    weight = np.where(k == 0, 1.0, 2.0)
    pairs = (b[:, None, :] * b[None, :, :] * weight).reshape(size * size, -1)
    form = np.zeros((size * size, size * size))
    for start in range(0, waves + 1, 200):
        part = slice(start, start + 200)
        form += pairs[:, part] @ (np.hypot(k[part, None], k[None, :]) @ pairs.T)
    # From (m m', n n') to (m n, m' n').
    form = form.reshape([size] * 4).transpose(0, 2, 1, 3).reshape(size * size, size * size)
    load = np.outer(b[:, 0], b[:, 0]).ravel()
    return 0.5 * load @ np.linalg.solve(form, load)


def grating(share, size, waves):
    """Depth over pitch of parallel strips."""
    b = transforms(1 - share, size, waves)
    form = (b * (4 * np.pi * np.arange(waves + 1))) @ b.T
    return 0.5 * b[:, 0] @ np.linalg.solve(form, b[:, 0])


def extrapolated(depth, share, size, waves):
    """Limit of many waves from three numbers of them."""
    a, b, c = (depth(share, size, waves * f) for f in (1, 2, 4))
    return c - (c - b) ** 2 / ((c - b) - (b - a))


if __name__ == "__main__":
    for share in (0.1, 0.25, 0.5):
        exact = np.log(1 / np.sin(np.pi * share / 2)) / (2 * np.pi)
        print(f"grating, width/pitch {share}: depth/pitch {extrapolated(grating, share, 6, 2000):.7f}, exact {exact:.7f}")
    for share in (0.05, 0.1, 0.25, 0.5, 0.8):
        depths = [extrapolated(hatch, share, size, 500) for size in (6, 8)]
        print(f"hatch, width/pitch {share}: depth/pitch " + " ".join(f"{d:.7f}" for d in depths))

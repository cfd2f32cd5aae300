"""Fields of correlated elevation error, drawn whole: an oracle for chances of grades.

Circulant embedding: the covariance of a grid wrapped round at the edges is a
circulant matrix, whose square root is taken by a Fourier transform (Dietrich &
Newsam 1997, Fast and exact simulation of stationary Gaussian processes through
circulant embedding of the covariance matrix, SIAM J. Sci. Comput. 18). One transform
gives two fields, its real and its imaginary part.
"""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.float64]


def fields(
    shape: tuple[int, int], cell_m: float, error_m: float, range_m: float, count: int, seed: int
) -> Iterator[Floats]:
    """Draw fields of error with an exponential correlation.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns.
    cell_m, error_m, range_m : float
        Cell size, standard error and practical range (5 % correlation left), metres.
    count, seed : int
        How many fields, and the seed.

    Yields
    ------
    ndarray of float, shape (rows, cols)
        Metres.
    """
    # Three ranges beyond the grid the wrapped covariance is as good as the open one.
    pad = 3.0 * range_m / cell_m
    rows, cols = (fft.next_fast_len(math.ceil(n + max(pad, n - 1))) for n in shape)
    down = np.minimum(np.arange(rows), rows - np.arange(rows)) * cell_m
    across = np.minimum(np.arange(cols), cols - np.arange(cols)) * cell_m
    alike = np.exp(-3.0 * np.hypot(down[:, None], across) / max(range_m, 1e-9))
    power = fft.fft2(alike).real
    assert power.min() > -1e-4 * power.max()  # the embedding holds
    root = error_m * np.sqrt(np.maximum(power, 0.0) / (rows * cols))
    rng = np.random.default_rng(seed)
    for left in range(count, 0, -2):
        noise = rng.standard_normal((rows, cols)) + 1j * rng.standard_normal((rows, cols))
        made = fft.fft2(root * noise, overwrite_x=True)
        yield np.asarray(made.real[: shape[0], : shape[1]])
        if left > 1:
            yield np.asarray(made.imag[: shape[0], : shape[1]])

"""Small symmetric positive definite matrices, by LAPACK's own routines: wrappers round them cost more than they do."""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array


def solved_definite(matrix: Array, right: Array) -> Array:
    """The answer (n, …) of a positive definite matrix (n, n) to right sides (n, …)."""
    from scipy.linalg.lapack import dposv

    _, answer, failed = dposv(matrix, right)
    if failed:
        raise np.linalg.LinAlgError(f"not positive definite from row {failed} on")
    return np.asarray(answer)


def inverse_definite(matrix: Array) -> Array:
    """The inverse of a positive definite matrix (n, n)."""
    from scipy.linalg.lapack import dpotrf, dpotri

    if not len(matrix):
        return matrix
    factor, failed = dpotrf(matrix, lower=True, clean=True)
    if failed:
        raise np.linalg.LinAlgError(f"not positive definite from row {failed} on")
    half, _ = dpotri(factor, lower=True)
    whole = half + half.T
    np.einsum("ii->i", whole)[:] *= 0.5
    return np.asarray(whole)

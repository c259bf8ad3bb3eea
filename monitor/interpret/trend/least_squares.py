"""Least squares: a few coefficients by their normal equations, weighted, some of them held near nothing."""

from collections.abc import Sequence
from math import fsum
from operator import mul

Matrix = list[list[float]]


def normal_equations(
    columns: Sequence[Sequence[float]], ys: Sequence[float], weights: Sequence[float]
) -> tuple[Matrix, list[float]]:
    """Give XᵀWX and XᵀWy; ``columns`` are those of X."""
    weighted = [list(map(mul, column, weights)) for column in columns]
    left = [[fsum(map(mul, row, column)) for column in columns] for row in weighted]
    return left, [fsum(map(mul, row, ys)) for row in weighted]


def inverse(matrix: Matrix) -> Matrix:
    """Invert a small symmetric matrix above nothing (Gauss and Jordan, the largest pivot of each column first)."""
    size = len(matrix)
    rows = [[*row, *(float(index == place) for place in range(size))] for index, row in enumerate(matrix)]
    for place in range(size):
        best = max(range(place, size), key=lambda index: abs(rows[index][place]))
        rows[place], rows[best] = rows[best], rows[place]
        pivot = rows[place][place]
        rows[place] = [value / pivot for value in rows[place]]
        for index in range(size):
            if index != place:
                factor = rows[index][place]
                rows[index] = [a - factor * b for a, b in zip(rows[index], rows[place], strict=True)]
    return [row[size:] for row in rows]


def applied(matrix: Matrix, vector: Sequence[float]) -> list[float]:
    """Give the product of the two."""
    return [fsum(map(mul, row, vector)) for row in matrix]

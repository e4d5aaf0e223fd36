"""The square cells that values of a field are computed on."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from vrp.errors import InputError

# Our choice: a map of 20 million cells is far beyond any field at any cell that soil
# samples could support, and still fits in the memory of a small computer.
MOST_CELLS = 20_000_000


@dataclass(frozen=True, slots=True)
class Cells:
    """
    Square cells over a field; those with their centre in it are its own.

    Attributes
    ----------
    x0 : float
        West edge of the first column. [m]
    y0 : float
        North edge of the first row; rows go south. [m]
    size : float
        Side of a cell. [m]
    inside : numpy.ndarray of bool, shape (rows, columns)
        Whether the centre of a cell lies in the field.
    """

    x0: float
    y0: float
    size: float
    inside: NDArray[np.bool_]

    @property
    def xy(self) -> NDArray[np.float64]:
        """
        Return the centres of the cells inside, row by row from the north.

        Returns
        -------
        numpy.ndarray, shape (m, 2)
            Positions. [m]
        """
        row, column = np.nonzero(self.inside)
        return np.column_stack(
            (
                self.x0 + (column + 0.5) * self.size,
                self.y0 - (row + 0.5) * self.size,
            )
        )

    def spread(self, values: NDArray[Any], fill: float) -> NDArray[Any]:
        """
        Return values of the cells inside as a grid.

        Parameters
        ----------
        values : numpy.ndarray, shape (m,)
            Values in the order of `xy`.
        fill : float
            What stands in the cells outside.

        Returns
        -------
        numpy.ndarray, shape (rows, columns)
            The grid, of the type of `values`.
        """
        grid = np.full(self.inside.shape, fill, dtype=values.dtype)
        grid[self.inside] = values
        return grid


def make_cells(
    outline: shapely.MultiPolygon | shapely.Polygon, *, size: float
) -> Cells:
    """
    Return square cells that cover a field.

    Parameters
    ----------
    outline : shapely.MultiPolygon or shapely.Polygon
        Ground of the field in a projected CRS. [m]
    size : float
        Side of a cell. [m]

    Returns
    -------
    Cells
        Edges on whole multiples of `size`; a part too small to hold the centre of a
        cell has none.

    Raises
    ------
    InputError
        If no cell has its centre in the field, or there are more than `MOST_CELLS`.

    Examples
    --------
    >>> make_cells(shapely.box(0, 0, 20, 10), size=10).xy.tolist()
    [[5.0, 5.0], [15.0, 5.0]]
    """
    west, south, east, north = outline.bounds
    left, right = np.floor(west / size), np.ceil(east / size)
    bottom, top = np.floor(south / size), np.ceil(north / size)
    count = (right - left) * (top - bottom)
    if count > MOST_CELLS:
        least = size * np.sqrt(count / MOST_CELLS)
        message = (
            f"cell {size:g} m makes {count:,.0f} cells over the field, more than "
            f"{MOST_CELLS:,}: give a cell of at least {least:.2g} m"
        )
        raise InputError(message)
    x = (np.arange(left, right) + 0.5) * size
    y = (np.arange(top, bottom, -1.0) - 0.5) * size
    shapely.prepare(outline)
    inside = shapely.contains_xy(outline, x[np.newaxis, :], y[:, np.newaxis])
    if not inside.any():
        message = (
            f"no cell of {size:g} m has its centre in the field of {outline.area:.0f} "
            "m²: give a smaller cell"
        )
        raise InputError(message)
    return Cells(float(left * size), float(top * size), size, inside)

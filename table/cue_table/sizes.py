"""Tables people play on: full size by the rules, and the common smaller ones.

Only the full-size table and its markings come from the Rules of Snooker (section 1.1). Smaller
tables have no binding dimensions: theirs are nominal, common practice without a source, and their
markings keep the full table's proportions. Measure your own table and give a ``TableSize``.
"""

from cue_table.setup import FULL_SIZE, TableSize


def table_in_proportion(length_m: float, width_m: float) -> TableSize:
    """Return a table of another size, its markings in the proportions of the full-size one.

    Parameters
    ----------
    length_m, width_m : float
        Inside the cushion faces.

    Returns
    -------
    TableSize
        Pocket openings stay as they are: the balls are the same size.

    Raises
    ------
    TableError
        If no table has these dimensions.
    """
    along, across = length_m / FULL_SIZE.length_m, width_m / FULL_SIZE.width_m
    return TableSize(
        length_m=length_m,
        width_m=width_m,
        baulk_line_m=FULL_SIZE.baulk_line_m * along,
        d_radius_m=FULL_SIZE.d_radius_m * across,
        black_from_top_m=FULL_SIZE.black_from_top_m * along,
    )


TABLE_SIZES: dict[str, TableSize] = {
    "12 ft": FULL_SIZE,
    "10 ft": table_in_proportion(2.946, 1.473),
    "9 ft": table_in_proportion(2.540, 1.270),
    "8 ft": table_in_proportion(2.235, 1.118),
    "7 ft": table_in_proportion(1.981, 0.991),
    "6 ft": table_in_proportion(1.676, 0.838),
}
"""By nominal length."""

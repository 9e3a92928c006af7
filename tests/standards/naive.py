"""The acceptance rules once more, written plainly from the clauses and slowly on purpose.

Nothing here is shared with the implementation: numbers are whole units (a tenth of a micrometre, a hundredth of a mil,
whatever the caller counts in), every mean is avoided by multiplying out, and every comparison is between integers.
"""

from __future__ import annotations

PA2_SPOT_LOW = {1: 100, 2: 100, 3: 80, 4: 80, 5: 80}
PA2_SPOT_HIGH = {1: 100, 2: 120, 3: 120, 4: 150, 5: None}


def pa2_area(level: int, minimum: int, maximum: int | None, spots: list[list[int]]) -> bool:
    """ "A spot measurement is the mean of its readings … no spot below 80 % … the area mean not below the minimum"."""
    for readings in spots:
        if 100 * sum(readings) < PA2_SPOT_LOW[level] * minimum * len(readings):
            return False
        high = PA2_SPOT_HIGH[level]
        if maximum is not None and high is not None and 100 * sum(readings) > high * maximum * len(readings):
            return False
    # The mean of the spot means, multiplied by the number of spots and by every spot's number of readings.
    product = 1
    for readings in spots:
        product *= len(readings)
    sum_of_means = 0
    for readings in spots:
        sum_of_means += sum(readings) * (product // len(readings))
    if sum_of_means < minimum * len(spots) * product:
        return False
    return maximum is None or level == 5 or sum_of_means <= maximum * len(spots) * product


def pa2_verdict(level: int, minimum: int, maximum: int | None, spots: list[list[int]]) -> str:
    """An area of five spots of three readings is judged; one cut short fails only by a spot that has its three."""
    if len(spots) >= 5 and all(len(readings) >= 3 for readings in spots):
        return "pass" if pa2_area(level, minimum, maximum, spots) else "fail"
    for readings in spots:
        if len(readings) < 3:
            continue
        if 100 * sum(readings) < PA2_SPOT_LOW[level] * minimum * len(readings):
            return "fail"
        high = PA2_SPOT_HIGH[level]
        if maximum is not None and high is not None and 100 * sum(readings) > high * maximum * len(readings):
            return "fail"
    return "incomplete"


def iso_19840(nominal: int, maximum: int | None, readings: list[int], correction: int) -> bool:
    """Mean at least nominal; each at least 80 %; fewer than 20 % below nominal; each at most the maximum."""
    sum_of_values = 0
    below = 0
    for reading in readings:
        value = reading - correction
        sum_of_values += value
        if 10 * value < 8 * nominal:
            return False
        if value < nominal:
            below += 1
        if maximum is not None and value > maximum:
            return False
    if sum_of_values < nominal * len(readings):
        return False
    return 5 * below < len(readings)


def imo_90_10(nominal: int, maximum: int | None, readings: list[int]) -> bool:
    """At least nine in ten reach nominal; the others reach nine tenths of it."""
    reached = 0
    for reading in readings:
        if reading >= nominal:
            reached += 1
        elif 10 * reading < 9 * nominal:
            return False
        if maximum is not None and reading > maximum:
            return False
    return 10 * reached >= 9 * len(readings)


def declared(
    readings: list[int], *, mean_low: int | None, mean_high: int | None, low: int | None, high: int | None,
    nominal: int | None, share_pct: int, fewer: bool,
) -> bool:  # fmt: skip
    """Each declared limit in turn."""
    n = len(readings)
    if mean_low is not None and sum(readings) < mean_low * n:
        return False
    if mean_high is not None and sum(readings) > mean_high * n:
        return False
    below = 0
    for reading in readings:
        if low is not None and reading < low:
            return False
        if high is not None and reading > high:
            return False
        if nominal is not None and reading < nominal:
            below += 1
    if nominal is None:
        return True
    return 100 * below < share_pct * n if fewer else 100 * below <= share_pct * n


def extent_stop(minimum: int, maximum: int | None, spots: list[list[int]]) -> int | None:
    """Walk outward; remember how many in a row were inside the specified limits; stop at two."""
    in_a_row = 0
    for index, readings in enumerate(spots):
        inside = sum(readings) >= minimum * len(readings)
        if maximum is not None and sum(readings) > maximum * len(readings):
            inside = False
        in_a_row = in_a_row + 1 if inside else 0
        if in_a_row == 2:
            return index
    return None


def gauge_point(
    certified: int, readings: list[int], accuracy_tenth_pct: int, accuracy: int, uncertainties: list[int], squares: bool
) -> bool:
    """|mean - certified| against gauge and standard combined; everything times 1000 and the count."""
    n = len(readings)
    error = abs(sum(readings) - certified * n) * 1000
    own = (certified * accuracy_tenth_pct + 1000 * accuracy) * n
    standard_squared = sum((1000 * u * n) ** 2 for u in uncertainties)
    if squares:
        return error**2 <= own**2 + standard_squared
    # error <= own + root(standard_squared): the root is compared by squaring what is left of the error.
    return error <= own or (error - own) ** 2 <= standard_squared


def iso_19840_plan(area_tenths: int) -> tuple[int, int]:
    """The table of clause 6.1, row by row; the area in tenths of a square metre."""
    if area_tenths <= 10:
        return 5, 1
    if area_tenths <= 30:
        return 10, 2
    if area_tenths <= 100:
        return 15, 3
    if area_tenths <= 300:
        return 20, 4
    if area_tenths <= 1000:
        return 30, 6
    readings, covered = 30, 1000
    while covered < area_tenths:
        readings, covered = readings + 10, covered + 1000
    return readings, readings * 20 // 100


def pa2_plan(area_tenths: int) -> int:
    """Every 10 m² under 30 m²; three to 100 m²; one more for each further 100 m² or portion. Tenths of a m²."""
    if area_tenths < 300:
        areas, covered = 0, 0
        while covered < area_tenths:
            areas, covered = areas + 1, covered + 100
        return areas
    areas, covered = 3, 1000
    while covered < area_tenths:
        areas, covered = areas + 1, covered + 1000
    return areas

"""From raw caliper readings to the value of a site: zero, third reading, and which readings count."""

import math
from dataclasses import dataclass
from typing import Literal

SITE_RULES = ("median", "closest-pair")

ThirdNeeded = Literal["yes", "no", ""]


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far two readings of one site may lie apart before a third is needed.
    kind : `mm`, or `percent` of the mean of the two corrected readings.
    hundredths : the limit in hundredths of its unit [0.01 mm] or [0.01 %]; at least 0."""

    kind: str
    hundredths: int

    def __post_init__(self) -> None:
        if self.kind not in ("mm", "percent"):
            raise ValueError(f"a tolerance is in mm or percent, not {self.kind!r}")
        if not isinstance(self.hundredths, int) or self.hundredths < 0:
            raise ValueError(
                f"a tolerance is a whole number of hundredths, at least 0, not {self.hundredths!r}"
            )


@dataclass(frozen=True, slots=True)
class SiteValue:
    """The value of one site.
    thousandths : the value [0.001 mm], exact for a mean of two readings kept to hundredths.
    kept_rounds : the rounds it was worked out from, 1 to 3."""

    thousandths: int
    kept_rounds: tuple[int, ...]

    @property
    def millimetres(self) -> float:
        """The value [mm]."""
        return self.thousandths / 1000


def corrected(reading: int, zero: int) -> int | None:
    """Return a reading with the caliper's zero deducted: reading - zero.

    Parameters
    ----------
    reading : raw reading [0.01 mm].
    zero : what the closed caliper reads, with its sign [0.01 mm].

    Returns
    -------
    Corrected reading [0.01 mm], or None where it is 0 or less: no fold has such a thickness.

    Notes
    -----
    Common practice: a caliper's zero reading is deducted from every reading taken with it.

    Examples
    --------
    >>> corrected(1500, 300), corrected(1500, -50), corrected(300, 300)
    (1200, 1550, None)
    """
    value = reading - zero
    return value if value > 0 else None


def exceeds(first: int, second: int, tolerance: Tolerance) -> bool:
    """Tell whether two corrected readings lie further apart than the tolerance; exactly met is within.

    Parameters
    ----------
    first, second : corrected readings [0.01 mm], above 0.

    Notes
    -----
    Per cent is of the mean of the two: |a - b| > p/100 (a + b)/2, kept in whole numbers as
    20000 |a - b| > p100 (a + b) with p100 the per cent in hundredths.

    Examples
    --------
    >>> exceeds(1240, 1040, Tolerance("mm", 200)), exceeds(1241, 1040, Tolerance("mm", 200))
    (False, True)
    >>> exceeds(1050, 950, Tolerance("percent", 1000)), exceeds(1051, 950, Tolerance("percent", 1000))
    (False, True)
    """
    gap = abs(first - second)
    if tolerance.kind == "mm":
        return gap > tolerance.hundredths
    # 20000 = 2 (mean of two) x 100 (per cent) x 100 (hundredths of a per cent)
    return gap * 20000 > tolerance.hundredths * (first + second)


def third_needed(first: int | None, second: int | None, tolerance: Tolerance) -> ThirdNeeded:
    """Tell whether a site needs a third reading: `yes`, `no`, or empty while two readings are not there.

    Notes
    -----
    Common practice: two readings within 1 to 2 mm of each other are kept; else a third is taken.

    Examples
    --------
    >>> third_needed(1240, 1440, Tolerance("mm", 100)), third_needed(1240, None, Tolerance("mm", 100))
    ('yes', '')
    """
    if first is None or second is None:
        return ""
    return "yes" if exceeds(first, second, tolerance) else "no"


def site_value(
    first: int | None, second: int | None, third: int | None, tolerance: Tolerance, rule: str = "median"
) -> SiteValue | None:
    """Return the value of a site from its corrected readings.

    Parameters
    ----------
    first, second, third : corrected readings [0.01 mm], None where there is none.
    tolerance : decides whether the third reading counts.
    rule : `median` (mean of two, middle of three) or `closest-pair` (mean of the two closest of three, the
        odd one left out; the middle one where the two smallest gaps are equal).

    Returns
    -------
    The value and the rounds kept. None with fewer than the first two readings. A third reading where
    none is needed is left out; where it is needed and missing the value is the mean of the two.

    Raises
    ------
    ValueError : the rule is not one of SITE_RULES.

    Examples
    --------
    >>> limit = Tolerance("mm", 200)
    >>> site_value(1200, 1300, None, limit)
    SiteValue(thousandths=12500, kept_rounds=(1, 2))
    >>> site_value(1200, 1500, 1450, limit).millimetres
    14.5
    >>> site_value(1200, 1500, 1450, limit, "closest-pair")
    SiteValue(thousandths=14750, kept_rounds=(2, 3))
    """
    if rule not in SITE_RULES:
        raise ValueError(f"the site rule must be one of {', '.join(SITE_RULES)}, not {rule!r}")
    if first is None or second is None:
        return None
    # Half a hundredth is 5 thousandths, so a mean of two is exact.
    if third is None or not exceeds(first, second, tolerance):
        return SiteValue((first + second) * 5, (1, 2))
    readings = ((first, 1), (second, 2), (third, 3))
    low, middle, high = sorted(readings)
    left_gap, right_gap = middle[0] - low[0], high[0] - middle[0]
    if rule == "median" or left_gap == right_gap:
        return SiteValue(middle[0] * 10, (middle[1],))
    pair = (low, middle) if left_gap < right_gap else (middle, high)
    return SiteValue((pair[0][0] + pair[1][0]) * 5, tuple(sorted(round_number for _, round_number in pair)))


def measure_again(first: int | None, second: int | None, third: int | None, tolerance: Tolerance) -> bool:
    """Tell whether no two of three readings lie within the tolerance: the site should be measured again.

    Examples
    --------
    >>> measure_again(1000, 1300, 1600, Tolerance("mm", 200))
    True
    >>> measure_again(1000, 1300, 1400, Tolerance("mm", 200))
    False
    """
    if first is None or second is None or third is None:
        return False
    pairs = ((first, second), (first, third), (second, third))
    return all(exceeds(one, other, tolerance) for one, other in pairs)


def midpoint(length: float) -> float:
    """Return the distance of the midpoint between two landmarks from either: length / 2, same unit.

    Raises
    ------
    ValueError : the length is not above 0, or not finite.

    Notes
    -----
    Common practice, in either unit of length.

    Examples
    --------
    >>> midpoint(40), midpoint(42)
    (20.0, 21.0)
    """
    if not 0 < length < math.inf:
        raise ValueError(f"a landmark distance must be above 0, not {length!r}")
    return length / 2

"""How often the intervals that are printed hold the true value, in simulated classes; 2,000 each at night.

Errors are normal. Rounding to a division D makes the true TEM sqrt(error^2 + D^2 / 12).
"""

import math
import os
import random

import numpy
import pandas
import pytest

from sheetgen.statistics.precision import site_precision
from sheetgen.statistics.readings_frame import readings_frame, rounds_of
from sheetgen.statistics.repeatability import (
    Interval,
    agreement,
    intraclass_correlation,
    minimal_detectable_change,
)
from sheetgen.statistics.retest import error_model
from tests.simulation import ERRORS, FOLDS, Design, simulated_class

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))
CLASSES = 2_000 if NIGHTLY else 300


def test_technical_error() -> None:
    """From the files of a class of 30, slips and unsettled thirds left out: 93 % in 150 classes. Abdominal
    errors are as large as the tolerance, so that some pairs stay unsettled: 92 %, and it is left out here."""
    given, held = 0, 0
    for seed in range(2_000 if NIGHTLY else 12):
        book, attempts = simulated_class(Design(1, off_mm=0.0, shared=False), seed)
        for site in site_precision(rounds_of(readings_frame(attempts, book))):
            if site.site != "abdominal" and isinstance(site.interval, Interval):
                true = math.hypot(ERRORS[site.site], 0.5 / math.sqrt(12))
                given += 1
                held += site.interval.lower <= true <= site.interval.upper
    assert given >= 72
    assert 0.92 <= held / given <= 0.98 if NIGHTLY else held / given >= 0.85


def test_intraclass_correlation() -> None:
    """20 people with a spread of 4 mm, two measurers each with an error of 1 mm: 16 / 17."""
    dice = random.Random(15)
    held = 0
    for _ in range(CLASSES):
        folds = [dice.gauss(15, 4) for _ in range(20)]
        found = intraclass_correlation([[fold + dice.gauss(0, 1) for _ in range(2)] for fold in folds])
        interval = found.interval  # type: ignore[union-attr]
        held += interval.lower <= 16 / 17 <= interval.upper
    assert held / CLASSES == pytest.approx(0.95, abs=0.015 if NIGHTLY else 0.04)


def test_limits_of_agreement() -> None:
    """20 differences of mean 0.5 and standard deviation 1.5 mm."""
    dice = random.Random(16)
    held = numpy.zeros(3)
    for _ in range(CLASSES):
        found = agreement([dice.gauss(0.5, 1.5) for _ in range(20)])
        true = ((found.mean_interval, 0.5), (found.lower_interval, -2.44), (found.upper_interval, 3.44))
        held += [one.lower <= value <= one.upper for one, value in true]  # type: ignore[union-attr]
    assert (held / CLASSES).tolist() == pytest.approx([0.95] * 3, abs=0.025 if NIGHTLY else 0.05)


def _readings(dice: numpy.random.Generator, folds: numpy.ndarray, growth: float) -> numpy.ndarray:
    """On a scale of 0.5 mm; the error is 0.8 mm at a fold of 15 mm."""
    errors = dice.normal(0, 1, folds.shape) * 0.8 * (folds / 15) ** growth
    return numpy.maximum(numpy.round((folds + errors) * 2) / 2, 0.5)


@pytest.mark.parametrize("growth", [0.0, 0.5, 1.0])
def test_band_of_the_retest_in_every_fifth_of_thickness(growth: float) -> None:
    """20 people measured at seven sites, nothing changes: 20 pairs of rounds a site make the bands."""
    dice = numpy.random.default_rng(17)
    beyond, sizes = numpy.zeros(5), numpy.zeros(5)
    for _ in range(2_000 if NIGHTLY else 30):
        body = numpy.exp(dice.normal(0, 0.25, (20, 1)))
        folds = numpy.array(list(FOLDS.values())) * body * numpy.exp(dice.normal(0, 0.17, (20, 7)))
        one, two, three, four = (_readings(dice, folds, growth) for _ in range(4))
        pairs = {"gap": (100 * (one - two)).T.ravel(), "mean_mm": ((one + two) / 2).T.ravel()}
        sites = [site for site in FOLDS for _ in range(20)]
        model = error_model(pandas.DataFrame({"site": sites, "is_teacher": False, **pairs}))
        change, thickness = (three + four - one - two) / 2, (one + two + three + four) / 4
        fifths = folds.argsort(axis=0).argsort(axis=0) // 4
        for column, site in enumerate(FOLDS):
            for fold, size, fifth in zip(
                thickness[:, column], abs(change[:, column]), fifths[:, column], strict=True
            ):
                error, degrees = model.at(site, fold)
                beyond[fifth] += size > minimal_detectable_change([error], 2, [degrees])
                sizes[fifth] += 1
    rates = beyond / sizes
    assert rates.min() >= 0.025
    assert rates.max() <= 0.08

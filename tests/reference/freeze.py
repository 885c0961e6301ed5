"""Writes the numbers of other packages that stand in tests/reference: `python tests/reference/freeze.py`.

Run only where one of them is to be made anew. The packages are heavy and their licences differ from this
project's, so no test needs them: `pip install pingouin==0.7.0 statsmodels==0.15.0 faraway==0.0.6`.
"""

import csv
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy
import pandas
import pingouin
from faraway.datasets import fat
from matplotlib.figure import Figure
from statsmodels.graphics.agreement import mean_diff_plot

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.reference_values import rows

FOLDER = Path(__file__).resolve().parent
RATERS = ("first", "second", "third", "fourth", "fifth")


def ratings(table: str) -> pandas.DataFrame:
    """People by raters, gaps as such."""
    found = rows("four_judges") if table == "four_judges" else rows("invented_ratings")
    wide = pandas.DataFrame(
        [{rater: row.get(rater, "") for rater in RATERS} for row in found if row.get("table", table) == table]
    )
    return wide.replace("", None).astype(float).dropna(axis=1, how="all")


def correlations() -> Iterator[Sequence[object]]:
    """ICC(1,1) with its 95 % interval; people with a gap are left out."""
    pingouin.options["round.column.CI95"] = 12
    for table in ("four_judges", "close", "biased", "apart", "gaps"):
        long = ratings(table).reset_index(names="person").melt("person", var_name="rater", value_name="score")
        lines = pingouin.intraclass_corr(long, "person", "rater", "score", nan_policy="omit")
        line = lines.set_index("Type").loc["ICC(1,1)"]
        yield table, float(line["ICC"]), *map(float, line["CI95"])


def agreements() -> Iterator[Sequence[object]]:
    """What the packages draw of two columns: lines, and the bands about them."""
    peak_flow = pandas.DataFrame(rows("peak_flow"))[["first", "second"]].astype(float)
    for data, pairs in (("peak_flow", peak_flow), ("close", ratings("close"))):
        axes = pingouin.plot_blandaltman(pairs["first"], pairs["second"], ax=Figure().add_subplot())
        _, mean, upper, lower = (float(line.get_ydata()[0]) for line in axes.lines)
        bands = [(band.get_y(), band.get_y() + band.get_height()) for band in axes.patches]
        for quantity, value, band in zip(
            ("mean_difference", "upper_limit", "lower_limit"), (mean, upper, lower), bands, strict=True
        ):
            yield "pingouin", data, quantity, value, *map(float, band)
        axes = Figure().add_subplot()
        mean_diff_plot(*numpy.array(pairs[["first", "second"]]).T, ax=axes, sd_limit=1.96)
        drawn = sorted(float(line.get_ydata()[0]) for line in axes.lines)
        for quantity, value in zip(("lower_limit", "mean_difference", "upper_limit"), drawn, strict=True):
            yield "statsmodels", data, quantity, value, "", ""


def densities() -> Iterator[Sequence[object]]:
    """Every tenth of 252 men: measured density and the two stored per cents."""
    for case, man in enumerate(fat.load().itertuples(), start=1):
        if case % 10 == 1:
            yield case, man.density, man.siri, man.brozek


def write(name: str, columns: str, basis: str, lines: Iterable[Sequence[object]]) -> None:
    """Write the rows anew; the lines above them, which name the source, stay."""
    path = FOLDER / f"{name}.csv"
    head = [line for line in path.read_text(encoding="utf-8").splitlines(True) if line.startswith("#")]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(head)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(f"{columns},basis".split(","))
        writer.writerows([*line, basis] for line in lines)


if __name__ == "__main__":
    write("package_correlations", "table,value,lower,upper", "package", correlations())
    write("package_agreement", "package,data,quantity,value,lower,upper", "package", agreements())
    write("density_26_men", "case,density,siri,brozek", "paper", densities())

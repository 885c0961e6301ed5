"""The tabs Sites and About: what to look up."""

from collections.abc import Mapping

from sheetgen.layout.cells import heading_row, identity, label
from sheetgen.layout.start import CAUTIONS
from sheetgen.layout.working import equation_text, equation_title
from sheetgen.model.layout import Tab
from sheetgen.model.protocol import Equation, Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["about_tab", "sites_tab"]

Texts = Mapping[str, str]


def sites_tab(protocol: Protocol, texts: Texts) -> Tab:
    """Return the tab Sites: where each fold is and how it is taken."""
    cells = [
        label(0, 0, texts["sites.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["sites.instruction"], "step"),
        *heading_row(3, [texts[f"sites.{name}"] for name in ("site", "fold", "landmark", "cues")]),
    ]
    for row, site in enumerate(protocol.sites, start=4):
        cells += [
            label(row, 0, site.title, "label_top"),
            label(row, 1, texts[f"sites.{site.direction}"], "wrap"),
            label(row, 2, site.landmark, "wrap"),
            label(row, 3, " ".join(site.cues), "wrap"),
        ]
    heights = tuple((row, 62.0) for row in range(4, 4 + len(protocol.sites)))
    return Tab(
        "sites", texts["tab.sites"], tuple(cells), (16, 12, 58, 74), heights, freeze=(4, 0), landscape=True
    )


def about_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab About: rules, equations with source, sample and range, and every caution."""
    limit = f"{settings.tolerance:g}" + texts[f"about.tolerance_{settings.tolerance_kind}"]
    rows = [
        (texts["about.protocol"], protocol.title),
        (texts["about.standard"], protocol.standard),
        (texts["about.tolerance"], limit),
        (texts["about.site_rule"], texts[f"about.site_rule_{settings.site_rule}"]),
        (texts["about.zero"], texts["about.zero_rule"]),
        (texts["about.missing"], texts["about.missing_rule"]),
    ]
    for equation in protocol.equations:
        title = texts["about.equation"] + equation_title(equation, texts)
        rows += [(title, equation_text(equation)), ("", _range_text(equation, texts))]
    if not protocol.equations:
        reason = "state.under-18" if settings.under_18 else "state.no-equation"
        rows.append((texts["about.estimate"], texts[reason]))
    if protocol.conversions:
        conversion = protocol.conversion(settings.conversion)
        how = f"{conversion.numerator:g} / D - {conversion.offset:g}"
        rows.append((texts["about.conversion"], f"{conversion.title}: {how}. {conversion.source}."))
    rows += [(texts["about.notes"], note) for note in protocol.notes]
    cells = [
        label(0, 0, texts["about.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(2, 0, texts["about.rules"], "heading"),
        label(2, 1, "", "heading"),
    ]
    for row, (name, text) in enumerate(rows, start=3):
        cells += [label(row, 0, name, "label_top"), label(row, 1, text, "wrap")]
    caution_row = 4 + len(rows)
    cells += [label(caution_row, 0, texts["about.cautions"], "heading"), label(caution_row, 1, "", "heading")]
    for number, key in enumerate(CAUTIONS, start=1):
        cells += [
            label(caution_row + number, 0, str(number), "label_top"),
            label(caution_row + number, 1, texts[key], "wrap"),
        ]
    heights = [(row, _height(text)) for row, (_, text) in enumerate(rows, start=3)]
    heights += [(caution_row + number, _height(texts[key])) for number, key in enumerate(CAUTIONS, start=1)]
    return Tab("about", texts["tab.about"], tuple(cells), (34, 96), tuple(heights))


def _height(text: str) -> float:
    """Points for a wrapped text in a column of 96 characters."""
    return 18.0 * (1 + len(text) // 92)


def _range_text(equation: Equation, texts: Texts) -> str:
    if equation.sum_minimum is None or equation.sum_maximum is None:
        sums = texts["about.no_sums"]
    else:
        low, high = f"{equation.sum_minimum:g}", f"{equation.sum_maximum:g}"
        sums = texts["about.sums"].format(minimum=low, maximum=high)
    density = "" if equation.standard_error_density is None else f"{equation.standard_error_density:g} g/ml, "
    return texts["about.range"].format(
        age_minimum=f"{equation.age_minimum:g}",
        age_maximum=f"{equation.age_maximum:g}",
        sums=sums,
        standard_error_density=density,
        standard_error_percent=f"{equation.standard_error_percent:g}",
        sample=equation.sample,
        source=equation.source,
    )

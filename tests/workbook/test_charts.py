import io
import re
import zipfile

from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Chart, Identity, Layout, Series, Tab
from sheetgen.workbook.render import rendered
from tests.sheets import sheet_of

CHART = Chart(
    row=4, column=0, width=600, height=300, title="Folds", alternative_text='Bars for "two" sites.',
    categories=(1, 2, 0), series=(Series("Value", 1, "solid", "0.0"), Series("Gap", 3, "striped", "0.0")),
    category_title="Site", value_title="mm",
)  # fmt: skip


def _parts(data: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {
            name: package.read(name).decode("utf-8") for name in package.namelist() if name.endswith(".xml")
        }


SMALL = _parts(
    rendered(
        Layout("Title", "Subject", "en", (Tab("one", "One", (), charts=(CHART,)),)),
        Identity(),
        read_template("style.toml"),
    )
)
DRAWN = SMALL["xl/charts/chart1.xml"]


def test_chart_follows_the_cells_of_its_tab() -> None:
    assert re.findall(r"<c:f>([^<]*)</c:f>", DRAWN) == [
        "One!$A$2:$A$3",
        "One!$B$2:$B$3",
        "One!$A$2:$A$3",
        "One!$D$2:$D$3",
    ]


def test_chart_has_its_titles_and_its_alternative_text() -> None:
    assert re.findall(r"<a:t>([^<]*)</a:t>", DRAWN) == ["Folds", "Site", "mm"]
    assert 'descr="Bars for &quot;two&quot; sites."' in SMALL["xl/drawings/drawing1.xml"]


def test_series_are_told_apart_by_their_filling_and_by_numbers() -> None:
    """In greys only: red, green and blue are never far apart."""
    assert DRAWN.count("<a:pattFill") == 1
    assert DRAWN.count('<c:showVal val="1"/>') == 2
    colours = {tuple(bytes.fromhex(one)) for one in re.findall(r'srgbClr val="(\w{6})"', DRAWN)}
    assert [one for one in colours if max(one) - min(one) > 24] == []


def test_chart_of_an_empty_sheet_holds_no_value() -> None:
    """Empty texts count as 0, and the number format shows none of them."""
    drawn = _parts(sheet_of().data)["xl/charts/chart1.xml"]
    numbers = re.findall(r"<c:numCache>.*?</c:numCache>", drawn)
    assert {value for one in numbers for value in re.findall(r"<c:v>([^<]*)</c:v>", one)} == {"0"}
    assert drawn.count('formatCode="0.0#;-0.0#;"') == 2

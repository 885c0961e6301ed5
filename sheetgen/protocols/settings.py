"""What shapes a sheet besides its protocol: rules of measurement, calipers, what it was built with."""

from msgspec import Struct

from sheetgen.protocols.protocol import Protocol

SECONDS_A_READING = 45.0  # What a reading takes where nobody said [s]. Common practice, no standard.


class Caliper(Struct, frozen=True):
    """One caliper of the register, described by its build.
    identifier : as the label on it says. division : smallest step of the scale [mm]. opening : widest opening
    [mm]. zero : what it reads when closed, with its sign [mm]. in_service : may be issued."""

    identifier: str
    build: str
    division: float
    opening: float
    zero: float
    in_service: bool = True


class SheetSettings(Struct, frozen=True):
    """Everything besides the protocol that shapes a sheet; the same value gives the same Layout.
    site_rule : `median` or `closest-pair`. tolerance_kind : `mm` or `percent`. tolerance : in that unit.
    conversion : identifier of one of the protocol's conversions. show_results : live sum, density and
    estimate: `always`, `after-working` or `never`. calipers : the class's whole register. estimates : `on`,
    or `sums-only`: nobody in the class gets an estimate. under_18 : made for someone under 18: limb sites and
    their sum only. youth_estimate : `on` or `off`: whether someone under 18 may get an estimate at all.
    cover_round_1 : round 1 is covered while round 2 is taken. narrow : for a small screen.
    reading_drill : ten drawn scales to read stand on a tab of their own. delete_on : the last day of body
    values as YYYY-MM-DD, said with the caution on health data; may be empty."""

    protocol_id: str
    language: str
    site_rule: str
    tolerance_kind: str
    tolerance: float
    conversion: str
    show_results: str
    calipers: tuple[Caliper, ...]
    estimates: str = "on"
    under_18: bool = False
    youth_estimate: str = "off"
    cover_round_1: bool = False
    narrow: bool = False
    delete_on: str = ""
    reading_drill: bool = False


class BuiltWith(Struct, frozen=True):
    """What a sheet was built with. It is printed on the hidden tab as one line of JSON text, so that a sheet
    can be read where the class's own record is gone.
    layout_version : the form of sheets at that time; see layout.student.LAYOUT_VERSION."""

    settings: SheetSettings
    protocol: Protocol
    layout_version: int

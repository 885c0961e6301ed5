"""The fixed words of a student workbook: entry names, list words, and their order. One fact, one table."""

from msgspec import Struct

from sheetgen.protocols.protocol import Protocol

ROUNDS = (1, 2, 3)
CONFIRM_WORDS = ("yes",)
DATA_SOURCE_WORDS = ("measured", "practice")
SEX_WORDS = ("female", "male", "sum-only")
SIDE_WORDS = ("right", "left")
LEFT_OUT = "left-out"
FORMER_LEFT_OUT = ("declined", "skin", "beyond-jaws", "no-fold")
"""Reasons that sheets of the first two layouts asked for; read as left out."""
ANSWERS = ("repeat", "zero", "error")
DRILL = tuple(f"drill_{number}" for number in range(1, 11))
"""Entries of the reading drill, on sheets that have one: never due."""
DRILL_SLIPS = ("between", "zero", "mark", "other")
"""What can be wrong with a reading of a drawn scale: it lies between two marks; the zero of the caliper
is forgotten, or taken off the wrong way; it is one mark off; anything else."""

OWN_DECIMALS = {
    "midpoints": 1, "sites": 2, "sum": 2, "density": 4, "fat-percent": 1, "fat-mass": 1, "fat-free-mass": 1,
}  # fmt: skip
"""Decimals asked for in the own working, by group of steps in the order of working."""

_GROUPS = {
    "sum_mm": "sum", "density_g_ml": "density", "fat_percent": "fat-percent", "fat_mass_kg": "fat-mass",
    "fat_free_mass_kg": "fat-free-mass",
}  # fmt: skip

SUM_AND_ESTIMATE = tuple(_GROUPS)  # Names of the live results that follow from all sites together.

STEPS = ("care", "start", "sites", "round-1", "round-2", "third", "working", "hand-in")
"""What the line of steps on every tab shows, in the order of the work."""

CAUTIONS_OF_PARTICIPANT = tuple(f"caution.c{number:02}" for number in (2, 4, 5, 10, 6, 3, 12))
"""Keys of the texts that speak to the person measured; they come first."""
CAUTIONS_OF_BOTH = tuple(f"caution.c{number:02}" for number in (1, 7, 8, 9, 11, 13))
CAUTIONS = tuple(sorted((*CAUTIONS_OF_PARTICIPANT, *CAUTIONS_OF_BOTH)))
CAUTION_HEALTH_DATA = "caution.c11"
"""The one that speaks of deleting; the day stands beside it where the class has one."""

MAJORITY = 18  # Years. Below it trunk sites are closed and there is no estimate, whatever the protocol says.


class StartEntry(Struct, frozen=True):
    """One entry on Start. words : code words it may hold, none where it is chosen from no list of them.
    limits : kind of number and its range, None for a text. practised : the practice set of a sheet has a
    value for it. filled_in : code word at hand-out."""

    words: tuple[str, ...] = ()
    limits: tuple[str, float, float] | None = None
    practised: bool = False
    filled_in: str = ""


START_ENTRIES = {
    "cautions_confirmed": StartEntry(CONFIRM_WORDS),
    "participant_agrees": StartEntry(CONFIRM_WORDS),
    "data_source": StartEntry(DATA_SOURCE_WORDS, filled_in="measured"),
    "age_years": StartEntry(limits=("whole", 5, 110), practised=True),
    "sex_equation": StartEntry(SEX_WORDS, practised=True),
    "mass_kg": StartEntry(limits=("decimal", 10, 350), practised=True),
    "caliper_id": StartEntry(),
    "zero_mm": StartEntry(limits=("decimal", -10, 10), practised=True),
    "length_upper_arm_cm": StartEntry(limits=("decimal", 10, 60), practised=True),
    "length_thigh_cm": StartEntry(limits=("decimal", 15, 80), practised=True),
    "participant_today": StartEntry(),
    "side": StartEntry(SIDE_WORDS, filled_in="right"),
    "caliper_id_2": StartEntry(),
    "zero_2_mm": StartEntry(limits=("decimal", -10, 10)),
    "changed_from_round": StartEntry(),
    "changed_from_site": StartEntry(),
}
"""By name, in the order of the tabs Care and Start."""

ON_CARE = ("cautions_confirmed", "participant_agrees")  # Entries on the tab Care; the others are on Start.
SELDOM = (
    "participant_today", "side", "caliper_id_2", "zero_2_mm", "changed_from_round", "changed_from_site",
)  # fmt: skip
"""Entries at the foot of Start, that most sheets leave as they are."""

TEXT_ENTRIES = frozenset(name for name, entry in START_ENTRIES.items() if entry.limits is None)
PRACTISED = tuple(name for name, entry in START_ENTRIES.items() if entry.practised)
FILLED_IN = {name: entry.filled_in for name, entry in START_ENTRIES.items() if entry.filled_in}


def listed_words(name: str) -> tuple[str, ...]:
    """Return every code word that an entry may hold; none where it is chosen from no list of code words."""
    return (
        (LEFT_OUT, *FORMER_LEFT_OUT)
        if name.startswith("not_taken_")
        else START_ENTRIES.get(name, StartEntry()).words
    )


def reading_name(round_number: int, site: str) -> str:
    """Return the name of a reading entry, such as `reading_1_chest`."""
    return f"reading_{round_number}_{site}"


def change_words(protocol: Protocol) -> tuple[str, ...]:
    """Return every reading as ROUND_SITE in the order of taking: round by round, site by site. One of them is
    the first that was taken with a second caliper."""
    return tuple(f"{number}_{site.word}" for number in ROUNDS for site in protocol.sites)


def sex_words(protocol: Protocol) -> tuple[str, ...]:
    """Return the words of `sex_equation` that a protocol has an equation for, and `sum-only` last."""
    sexes = {equation.sex for equation in protocol.equations}
    return tuple(word for word in SEX_WORDS if word in sexes or word == "sum-only")


def start_entries(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of the entries on Start: only what the protocol has a use for."""
    sites = {site.word for site in protocol.sites}
    estimate = bool(protocol.equations)
    of_use = {
        "age_years": estimate or any(site.trunk for site in protocol.sites),
        "sex_equation": estimate,
        "mass_kg": estimate,
        "length_upper_arm_cm": bool(sites & {"triceps", "biceps"}),
        "length_thigh_cm": "thigh" in sites,
    }
    return tuple(name for name in START_ENTRIES if of_use.get(name, True))


def midpoints_of(protocol: Protocol) -> dict[str, str]:
    """Return entry of a length to the live midpoint that follows from it."""
    names = [name for name in start_entries(protocol) if name.startswith("length_")]
    return {name: name.replace("length_", "midpoint_") for name in names}


def own_steps(protocol: Protocol) -> tuple[tuple[str, str], ...]:
    """Return (own entry name, name of the live result it answers) in the order of working."""
    live = [*midpoints_of(protocol).values(), *(f"site_{site.word}" for site in protocol.sites), "sum_mm"]
    if any(equation.gives_density for equation in protocol.equations):
        live.append("density_g_ml")
    if protocol.equations:
        live += ["fat_percent", "fat_mass_kg", "fat_free_mass_kg"]
    return tuple((f"own_{name}", name) for name in live)


def step_group(live_name: str) -> str:
    """Return the group of steps of a live result, one of OWN_DECIMALS: `sites` of `site_chest`."""
    if live_name.startswith("site_"):
        return "sites"
    return "midpoints" if live_name.startswith("midpoint_") else _GROUPS[live_name]


def own_decimals(live_name: str) -> int:
    """Return the decimals that the own working of a live result is asked for."""
    return OWN_DECIMALS[step_group(live_name)]


def not_taken_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of the entries that leave a site out."""
    return tuple(f"not_taken_{site.word}" for site in protocol.sites)


def entry_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of all entries of a student workbook."""
    readings = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    own = [name for name, _ in own_steps(protocol)]
    start = (*start_entries(protocol), *readings, *not_taken_names(protocol))
    return (*start, *own, *(f"answer_{word}" for word in ANSWERS))


def live_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of all live results of a student workbook."""
    by_site = [f"{kind}_{site.word}" for kind in ("site", "third", "again") for site in protocol.sites]
    return (*midpoints_of(protocol).values(), *by_site, *SUM_AND_ESTIMATE, "ready")

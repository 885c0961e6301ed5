"""The fixed words of a student workbook: entry names, list words, and their order. One fact, one table."""

from dataclasses import dataclass

from sheetgen.protocols.protocol import Protocol

ROUNDS = (1, 2, 3)
CONFIRM_WORDS = ("yes",)
DATA_SOURCE_WORDS = ("measured", "practice")
SEX_WORDS = ("female", "male", "sum-only")
SIDE_WORDS = ("right", "left")
NOT_TAKEN_WORDS = ("declined", "skin", "beyond-jaws", "no-fold")
ANSWERS = ("repeat", "zero", "error")

OWN_DECIMALS = {
    "midpoints": 1, "sites": 2, "sum": 2, "density": 4, "fat-percent": 1, "fat-mass": 1, "fat-free-mass": 1,
}  # fmt: skip
"""Decimals asked for in the own working, by group of steps in the order of working."""

_GROUPS = {
    "sum_mm": "sum", "density_g_ml": "density", "fat_percent": "fat-percent", "fat_mass_kg": "fat-mass",
    "fat_free_mass_kg": "fat-free-mass",
}  # fmt: skip

SUM_AND_ESTIMATE = tuple(_GROUPS)
"""Names of the live results that follow from all sites together."""

STEPS = (
    "cautions", "sex-equation", "age", "caliper", "zero", "lengths",
    "round-1", "round-2", "third", "values", "working", "done",
)  # fmt: skip
"""What the sheet asks for next, in this order."""

CAUTIONS = tuple(f"caution.c{number:02}" for number in range(1, 14))
"""Keys of the texts that every sheet prints."""

MAJORITY = 18
"""Years. Below it trunk sites are closed and there is no estimate, whatever the protocol says."""


@dataclass(frozen=True, slots=True)
class StartEntry:
    """One entry on Start.

    words : code words it may hold, none where it is chosen from no list of them.
    limits : kind of number and its range, None for a text.
    practised : the practice set of a sheet has a value for it. filled_in : code word at hand-out.
    """

    words: tuple[str, ...] = ()
    limits: tuple[str, float, float] | None = None
    practised: bool = False
    filled_in: str = ""


START_ENTRIES = {
    "cautions_confirmed": StartEntry(CONFIRM_WORDS),
    "data_source": StartEntry(DATA_SOURCE_WORDS, filled_in="measured"),
    "participant_today": StartEntry(),
    "age_years": StartEntry(limits=("whole", 5, 110), practised=True),
    "sex_equation": StartEntry(SEX_WORDS, practised=True),
    "mass_kg": StartEntry(limits=("decimal", 10, 350), practised=True),
    "caliper_id": StartEntry(),
    "zero_mm": StartEntry(limits=("decimal", -10, 10), practised=True),
    "side": StartEntry(SIDE_WORDS, filled_in="right"),
    "length_upper_arm_cm": StartEntry(limits=("decimal", 10, 60), practised=True),
    "length_thigh_cm": StartEntry(limits=("decimal", 15, 80), practised=True),
    "caliper_id_2": StartEntry(),
    "zero_2_mm": StartEntry(limits=("decimal", -10, 10)),
    "changed_from": StartEntry(),
}
"""By name, in the order of the tab."""

TEXT_ENTRIES = frozenset(name for name, entry in START_ENTRIES.items() if entry.limits is None)
PRACTISED = tuple(name for name, entry in START_ENTRIES.items() if entry.practised)
FILLED_IN = {name: entry.filled_in for name, entry in START_ENTRIES.items() if entry.filled_in}


def listed_words(name: str) -> tuple[str, ...]:
    """Return every code word that an entry may hold; none where it is chosen from no list of code words.

    Examples
    --------
    >>> listed_words("side"), listed_words("not_taken_chest")[0], listed_words("caliper_id")
    (('right', 'left'), 'declined', ())
    """
    return NOT_TAKEN_WORDS if name.startswith("not_taken_") else START_ENTRIES.get(name, StartEntry()).words


def reading_name(round_number: int, site: str) -> str:
    """Return the name of a reading entry.

    Examples
    --------
    >>> reading_name(1, "chest")
    'reading_1_chest'
    """
    return f"reading_{round_number}_{site}"


def change_words(protocol: Protocol) -> tuple[str, ...]:
    """Return the words of `changed_from` in the order of taking: round by round, site by site."""
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


def midpoint_names(protocol: Protocol) -> list[str]:
    """Return the names of the live results that halve a length."""
    entries = start_entries(protocol)
    return [f"midpoint_{part}_cm" for part in ("upper_arm", "thigh") if f"length_{part}_cm" in entries]


def own_steps(protocol: Protocol) -> tuple[tuple[str, str], ...]:
    """Return (own entry name, name of the live result it answers) in the order of working."""
    live = [*midpoint_names(protocol), *(f"site_{site.word}" for site in protocol.sites), "sum_mm"]
    if any(equation.gives_density for equation in protocol.equations):
        live.append("density_g_ml")
    if protocol.equations:
        live += ["fat_percent", "fat_mass_kg", "fat_free_mass_kg"]
    return tuple((f"own_{name}", name) for name in live)


def step_group(live_name: str) -> str:
    """Return the group of steps of a live result, one of OWN_DECIMALS.

    Examples
    --------
    >>> step_group("site_chest"), step_group("midpoint_thigh_cm"), step_group("sum_mm")
    ('sites', 'midpoints', 'sum')
    """
    if live_name.startswith("site_"):
        return "sites"
    return "midpoints" if live_name.startswith("midpoint_") else _GROUPS[live_name]


def own_decimals(live_name: str) -> int:
    """Return the decimals that the own working of a live result is asked for.

    Examples
    --------
    >>> own_decimals("density_g_ml")
    4
    """
    return OWN_DECIMALS[step_group(live_name)]


def entry_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of all entries of a student workbook."""
    readings = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    not_taken = [f"not_taken_{site.word}" for site in protocol.sites]
    own = [name for name, _ in own_steps(protocol)]
    return (*start_entries(protocol), *readings, *not_taken, *own, *(f"answer_{word}" for word in ANSWERS))


def live_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the names of all live results of a student workbook."""
    by_site = [f"{kind}_{site.word}" for kind in ("site", "third", "again") for site in protocol.sites]
    return (*midpoint_names(protocol), *by_site, *SUM_AND_ESTIMATE, "ready")

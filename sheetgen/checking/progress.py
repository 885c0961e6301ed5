"""How far a sheet is: the next step and whether it is ready, as the sheet says it."""

from sheetgen.checking.recalculate import live_values, number_of, text_of
from sheetgen.layout.vocabulary import SEX_WORDS, own_steps, reading_name, start_entries
from sheetgen.model.attempt import Entries, Results
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["next_step"]


def next_step(protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results) -> str:
    """Return the word of the first step not yet done, one of layout.vocabulary.STEPS; `done` when ready."""
    sex = text_of(entries, "sex_equation") if protocol.equations else ""
    calipers = {caliper.identifier.casefold() for caliper in settings.calipers}
    open_sites = [site for site in results.sites if not site.not_taken]

    def round_open(number: int) -> bool:
        return any(number_of(entries, reading_name(number, site.site)) is None for site in open_sites)

    live = live_values(results)
    working = [own for own, name in own_steps(protocol) if not isinstance(live[name], str)]
    asked = start_entries(protocol)
    midpoints = [name for _, name in own_steps(protocol) if name.startswith("midpoint_")]
    tests = (
        ("cautions", text_of(entries, "cautions_confirmed") != "yes"),
        ("sex-equation", "sex_equation" in asked and sex not in SEX_WORDS),
        ("age", "age_years" in asked and sex != "sum-only" and number_of(entries, "age_years") is None),
        ("caliper", text_of(entries, "caliper_id") not in calipers),
        ("zero", number_of(entries, "zero_mm") is None),
        ("lengths", any(live[name] == "" for name in midpoints)),
        ("round-1", round_open(1)),
        ("round-2", round_open(2)),
        ("third", any(site.third_needed == "yes" and site.corrected[2] is None for site in open_sites)),
        ("values", any(site.value_mm is None for site in open_sites)),
        ("working", any(not isinstance(entries.get(own), float | int) for own in working)),
    )
    return next((word for word, is_open in tests if is_open), "done")

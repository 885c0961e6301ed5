"""The fixed words, columns and limits of the class book. One fact, one table."""

__all__ = [
    "BLOCKS",
    "CALIPER_COLUMNS",
    "CHECK_COLUMNS",
    "DATE_SETTINGS",
    "DIVISIONS",
    "FIRST_ROW",
    "HEADING_ROW",
    "LATER_COLUMNS",
    "LATER_SETTINGS",
    "LEFT",
    "LONGEST",
    "MINORS",
    "MOST_PEOPLE",
    "PAIR_AT",
    "PAIR_COLUMNS",
    "PRINTED_SPARE",
    "RANGES",
    "ROLES",
    "ROSTER_COLUMNS",
    "ROSTER_WORDS",
    "SECONDS_A_READING",
    "SETTINGS",
    "SETTING_WORDS",
    "SPARE_CALIPERS",
    "SPARE_ROWS",
    "STATUSES",
    "TAKES_PART",
    "WHOLE_SETTINGS",
    "WISH_COLUMNS",
    "YES_NO",
    "ZERO_LIMIT",
]

HEADING_ROW = 4
FIRST_ROW = 5
PRINTED_SPARE = 12
"""Empty lines that are printed below the filled ones: all the spare ones would be pages of nothing."""

SPARE_ROWS = 200
SPARE_CALIPERS = 39
MOST_PEOPLE = 4_500
"""With the spare rows a tab stays below the 5,000 rows that are read back."""

SETTINGS = (
    "class_title", "protocol", "site_rule", "tolerance_kind", "tolerance", "conversion", "show_results",
    "minors", "estimates", "youth_estimate", "due_date", "feedback_given",
    "declared", "group_size", "demonstration", "seconds_a_reading", "spare_sheets", "cover_round_1",
    "language",
)  # fmt: skip
DATE_SETTINGS = ("due_date", "feedback_given")
WHOLE_SETTINGS = ("group_size", "spare_sheets")
LATER_SETTINGS = (
    *DATE_SETTINGS, "declared", "group_size", "demonstration", "seconds_a_reading", "spare_sheets",
    "cover_round_1", "language",
)  # fmt: skip
"""Class books made before these were asked for have no line for them."""
MINORS = ("some", "none", "all")
"""The default first: an empty under_18 then counts as yes."""

ROSTER_COLUMNS = ("student_id", "given_name", "family_name", "email", "group", "role", "under_18")
"""What a roster from elsewhere may bring."""
WISH_COLUMNS = ("takes_part", "partner", "apart", "status")
"""What only the class book says of a person."""
CALIPER_COLUMNS = ("identifier", "build", "division", "opening", "zero", "in_service")
BLOCKS = (10.0, 20.0, 30.0, 40.0)
"""Gauge blocks that a caliper is checked on [mm]."""
CHECK_COLUMNS = ("block_10", "block_20", "block_30", "block_40", "checked_on", "checked_by")
"""The last check of a caliper."""
PAIR_COLUMNS = ("measurer", "participant", "caliper", "protocol", "spare")
PAIR_AT = {"measurer": 0, "participant": 2, "caliper": 4, "protocol": 5, "spare": 6}
"""Beside each person's id stands the name."""
LATER_COLUMNS = (*WISH_COLUMNS, *CHECK_COLUMNS, "spare")
"""Class books made before there was a tab Stations have not got these."""

SETTING_WORDS = {
    "site_rule": ("median", "closest-pair"),
    "tolerance_kind": ("mm", "percent"),
    "show_results": ("always", "after-working", "never"),
    "minors": MINORS,
    "estimates": ("on", "sums-only"),
    "youth_estimate": ("off", "on"),
    "cover_round_1": ("no", "yes"),
}
ROLES = ("student", "teacher")
TAKES_PART = ("both", "measures-only")
"""The default first."""
LEFT = "left"
"""The status of who has left the class; everybody else has none."""
STATUSES = (LEFT,)
YES_NO = ("yes", "no")
ROSTER_WORDS = {"role": ROLES, "under_18": YES_NO, "takes_part": TAKES_PART, "status": STATUSES}
"""The columns of the roster that take one of some words."""
DIVISIONS = (1.0, 0.5, 0.2, 0.1)

LONGEST = {
    "class_title": 60, "student_id": 40, "given_name": 60, "family_name": 60, "email": 120, "group": 40,
    "role": 20, "under_18": 20, "identifier": 12, "build": 60, "due_date": 10, "feedback_given": 10,
    "declared": 200, "demonstration": 40, "takes_part": 20, "partner": 40, "apart": 200, "status": 20,
    "checked_on": 10, "checked_by": 40, "spare": 12,
}  # fmt: skip
"""Characters."""

RANGES = {
    "tolerance": (0.1, 50.0), "opening": (10.0, 120.0), "zero": (-10.0, 10.0), "block": (0.0, 60.0),
    "group_size": (2.0, 6.0), "seconds_a_reading": (10.0, 300.0), "spare_sheets": (0.0, 20.0),
}  # fmt: skip
"""Per cent for a tolerance in per cent, seconds for a reading, else mm or how many."""

SECONDS_A_READING = 45.0
"""What a reading takes where nobody said [s]. Common practice, no standard."""

ZERO_LIMIT = 1.0
"""A caliper that reads further from 0 when closed is for practice only [mm]. Common practice, no standard."""

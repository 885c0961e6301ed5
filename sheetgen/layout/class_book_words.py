"""The fixed words, columns and limits of the class book. One fact, one table."""

__all__ = [
    "CALIPER_COLUMNS",
    "DATE_SETTINGS",
    "DIVISIONS",
    "FIRST_ROW",
    "HEADING_ROW",
    "LONGEST",
    "MINORS",
    "MOST_PEOPLE",
    "PAIR_AT",
    "PAIR_COLUMNS",
    "RANGES",
    "ROLES",
    "ROSTER_COLUMNS",
    "SETTINGS",
    "SETTING_WORDS",
    "SPARE_CALIPERS",
    "SPARE_ROWS",
    "YES_NO",
]

HEADING_ROW = 4
FIRST_ROW = 5

SPARE_ROWS = 200
SPARE_CALIPERS = 39
MOST_PEOPLE = 4_500
"""With the spare rows a tab stays below the 5,000 rows that are read back."""

SETTINGS = (
    "class_title", "protocol", "site_rule", "tolerance_kind", "tolerance", "conversion", "show_results",
    "minors", "estimates", "youth_estimate", "due_date", "feedback_given",
    "declared",
)  # fmt: skip
DATE_SETTINGS = ("due_date", "feedback_given")
"""Class books made before these were asked for have no line for them."""
MINORS = ("some", "none", "all")
"""The default first: an empty under_18 then counts as yes."""

ROSTER_COLUMNS = ("student_id", "given_name", "family_name", "email", "group", "role", "under_18")
CALIPER_COLUMNS = ("identifier", "build", "division", "opening", "zero", "in_service")
PAIR_COLUMNS = ("measurer", "participant", "caliper", "protocol")
PAIR_AT = {"measurer": 0, "participant": 2, "caliper": 4, "protocol": 5}
"""Beside each person's id stands the name."""

SETTING_WORDS = {
    "site_rule": ("median", "closest-pair"),
    "tolerance_kind": ("mm", "percent"),
    "show_results": ("always", "after-working", "never"),
    "minors": MINORS,
    "estimates": ("on", "sums-only"),
    "youth_estimate": ("off", "on"),
}
ROLES = ("student", "teacher")
YES_NO = ("yes", "no")
DIVISIONS = (1.0, 0.5, 0.2, 0.1)

LONGEST = {
    "class_title": 60, "student_id": 40, "given_name": 60, "family_name": 60, "email": 120, "group": 40,
    "role": 20, "under_18": 20, "identifier": 12, "build": 60, "due_date": 10, "feedback_given": 10,
    "declared": 200,
}  # fmt: skip
"""Characters."""

RANGES = {"tolerance": (0.1, 50.0), "opening": (10.0, 120.0), "zero": (-10.0, 10.0)}
"""Per cent for a tolerance in per cent, else mm."""

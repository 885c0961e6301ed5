"""How two processes share the files of tests: those that begin with the same things go to one process, and
the longest begin first, so that neither process works alone at the end."""

from xdist.scheduler import LoadFileScheduling

TOGETHER = (
    # the first session of the sample class
    (
        "tests/test_claims.py", "tests/commands/test_demo.py", "tests/test_one_slip.py",
        "tests/office/test_pictures.py",
    ),
    # filled sheets of three protocols
    ("tests/evidence/test_changer.py", "tests/evidence/test_honest.py", "tests/evidence/test_packages.py"),
    # what simulated classes say
    (
        "tests/report/test_results.py", "tests/report/test_file_pages.py", "tests/report/test_over_time.py",
        "tests/report/test_precision_pages.py", "tests/report/test_tables.py", "tests/report/test_today.py",
    ),
)  # fmt: skip

FIRST = (
    "tests/test_claims.py", "tests/evidence/test_changer.py", "tests/office/test_round_trip.py",
    "tests/office/test_typing.py", "tests/audit/test_audit.py", "tests/commands/test_read.py",
    "tests/report/test_results.py", "tests/office/test_differential.py", "tests/commands/test_build.py",
    "tests/commands/test_new.py", "tests/test_term.py", "tests/office/test_ods.py", "tests/test_findings.py",
    "tests/evidence/test_kills.py", "tests/class_book/test_book.py", "tests/office/test_client.py",
    "tests/commands/test_forget.py", "tests/test_cluster.py", "tests/bench/test_corpus.py",
    "tests/test_spare_sheets.py", "tests/returned/test_one_file.py", "tests/class_book/test_hand_outs.py",
    "tests/test_forgetting.py", "tests/test_double_click.py", "tests/test_simulated_class.py",
    "tests/cli/test_job.py", "tests/commands/test_look.py", "tests/test_late_files.py",
    "tests/returned/test_typed_in.py", "tests/test_sample_bundle.py", "tests/test_kept_scores.py",
    "tests/test_second_session.py", "tests/test_class_life.py", "tests/test_silent_practice.py",
)  # fmt: skip
"""From over half a minute down to five seconds; of those that stay together the first."""

_LEADS = {file: files[0] for files in TOGETHER for file in files}
_PLACES = {file: number for number, file in enumerate(FIRST)}


def shared(file: str) -> str:
    """The name of what a file is part of: the first of those that stay together, else itself."""
    return _LEADS.get(file, file)


def place(file: str) -> int:
    """Where a file stands in the order: the longest first, the others as they come."""
    return _PLACES.get(shared(file), len(_PLACES))


class Scheduling(LoadFileScheduling):  # type: ignore[misc]
    """Hands out files, or files that stay together, to whichever process is free."""

    def _split_scope(self, nodeid: str) -> str:
        return shared(super()._split_scope(nodeid))

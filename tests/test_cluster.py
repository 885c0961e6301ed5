"""Reading on a cluster: any executor of the standard kind will do, here one of two processes of dask."""

from pathlib import Path

import pytest
from dask.distributed import Client, LocalCluster

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.read import read_returned
from tests.classes import PEOPLE, built_class, filled_sheet, returned
from tests.zips import zip_of


def results(folder: ClassFolder) -> dict[str, bytes]:
    """Every file of results/ by its path."""
    files = [path for path in folder.results(1).rglob("*") if path.is_file()]
    return {path.relative_to(folder.root).as_posix(): path.read_bytes() for path in files}


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    folder = built_class(tmp_path / "class")
    for student in PEOPLE[:2]:
        returned(folder, f"{student}.xlsx", filled_sheet(folder, student))
    bundle = {f"{student}/sheet.xlsx": filled_sheet(folder, student) for student in PEOPLE[2:]}
    returned(folder, "download.zip", zip_of(bundle))
    returned(folder, "torn.xlsx", b"PK\x03\x04 broken")
    return folder


def test_results_of_two_cluster_workers_are_those_of_one_process_to_the_byte(
    folder: ClassFolder, tmp_path: Path
) -> None:
    alone = read_returned(folder, 1, today="2027-01-15")
    expected = results(folder)
    for name in expected:
        (folder.root / name).unlink()
    told: list[tuple[int, int]] = []
    cluster = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, local_directory=tmp_path
    )
    with cluster, Client(cluster) as client:
        together = read_returned(
            folder,
            1,
            progress=lambda done, total: told.append((done, total)),
            today="2027-01-15",
            executor=client.get_executor(),
        )
    assert repr(together.attempts) == repr(alone.attempts)
    assert [one.status for one in alone.attempts] == ["accepted"] * 4 + ["refused"]
    assert results(folder) == expected
    assert told == [(done, 5) for done in range(1, 6)]

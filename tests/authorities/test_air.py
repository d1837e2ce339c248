"""The time that fresh air takes, against a table printed by a public authority, and on the page that tells it."""

import csv
from pathlib import Path

import pytest

from labsys.hazards.errors import OutOfRange
from labsys.hazards.exposure import minutes_to_clear_air
from tests.planning.furnishing import add_film_process
from tests.support.assessing import begin, write
from tests.support.pages import text


def table():
    lines = (Path(__file__).parent / "cdc-air-changes.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", table(), ids=lambda row: row["air_changes"])
def test_the_minutes_are_those_of_the_table_to_its_rounding(row):
    """CDC 1994, MMWR 43 no. RR-13, Table S3-1: three figures a row, printed to whole minutes."""
    for column, share in (("minutes_90", 0.9), ("minutes_99", 0.99), ("minutes_99_9", 0.999)):
        minutes = minutes_to_clear_air(changes_per_hour=float(row["air_changes"]), removed_share=share)
        assert minutes == pytest.approx(float(row[column]), abs=0.5)


def test_poor_mixing_makes_it_up_to_ten_times_as_long():
    """CDC 1994, MMWR 43 no. RR-13, note to Table S3-1: the factor could be as high as 10."""
    assert minutes_to_clear_air(changes_per_hour=6, mixing=0.1) == pytest.approx(10 * 46, abs=5)


@pytest.mark.parametrize(
    "bad", [{"changes_per_hour": 0}, {"removed_share": 1}, {"removed_share": -0.1}, {"mixing": 0}, {"mixing": 1.1}]
)
def test_air_that_cannot_be_is_refused(bad):
    with pytest.raises(OutOfRange):
        minutes_to_clear_air(**{"changes_per_hour": 6, **bad})


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("tenths", "best", "worst", "source"),
    [
        (60, "in 46 min", "in up to 461 min", "CDC 1994, MMWR 43 no. RR-13, Table S3-1; ten times that calculated"),
        (120, "in 23 min", "in up to 230 min", "CDC 1994, MMWR 43 no. RR-13, Table S3-1; ten times that calculated"),
    ],
)
def test_an_assessment_tells_how_long_the_air_takes_and_gives_no_leave_by_it(
    lab, client_as, tenths, best, worst, source
):
    assessment = begin(lab, add_film_process(lab))
    write(lab, assessment, air_changes_tenths=tenths, air_changes_source="extraction test")
    page = text(client_as("technician").get(f"/assessments/{assessment.id}"))
    assert f"99 % is carried off {best}" in page, source
    assert worst in page
    assert "nobody goes back in by it, a named competent person releases the room" in page


@pytest.mark.sqlite_only
def test_where_the_air_changes_are_not_known_no_time_is_told(lab, client_as):
    assessment = begin(lab, add_film_process(lab))
    page = text(client_as("technician").get(f"/assessments/{assessment.id}"))
    assert "Not known. Guidance for darkrooms" in page
    assert "is carried off" not in page

"""A registry of a whole country with faults at stated rates: what is caught, and what is caught by mistake."""

import csv
import json

import country
import numpy as np
import pytest

from siting.io import packs
from siting.kinds import vocabulary
from siting.registries import screen_files

pytest.importorskip("pyarrow")
pytest.importorskip("scipy")

CAUGHT_BY = {
    "swapped": "exchanged they fit the rest",
    "missing": "nothing under",
    "placeholder": "stands for an empty cell",
    "unknown kind": "is not known",
    "out of range": "latitude -",
}
"Faults that make a row one that cannot be judged, and the reason that tells them."


@pytest.fixture(scope="module")
def screened(tmp_path_factory):
    """20,000 latrines and 4,000 wells of the country, with faults, screened once."""
    folder = tmp_path_factory.mktemp("country")
    tables = {
        "latrines": country.registry(20_000, "latrine", seed=11),
        "wells": country.registry(4_000, "well", seed=12),
    }
    for name, table in tables.items():
        (folder / f"{name}.csv").write_text(country.as_csv(table))
    screen_files(
        folder / "latrines.csv", folder / "wells.csv", packs.in_force(("health-care-waste",)), vocabulary(),
        folder=folder / "out", confidence=0.95, with_map=False,
    )  # fmt: skip
    return tables, folder / "out"


def test_the_country_is_the_same_every_time():
    """One seed, one country; sizes have a heavy tail: a hundredth of the settlements hold a sixth of all places."""
    _, shares = country.settlements()

    assert np.array_equal(shares, country.settlements()[1])
    assert np.sort(shares)[-len(shares) // 100 :].sum() > 1 / 6
    assert country.as_csv(country.registry(50, "well", seed=3)) == country.as_csv(country.registry(50, "well", seed=3))


@pytest.mark.parametrize("name", ["latrines", "wells"])
def test_every_fault_that_can_be_seen_is_caught_and_nothing_else(screened, name):
    """Catch rate 100 % of each fault that makes a row unfit, no row refused that is in order; printed."""
    tables, out = screened
    refused = {
        int(row["row"]) - 2: row["reason"]
        for row in csv.DictReader((out / "refused.csv").read_text("utf-8-sig").splitlines())
        if row["table"] == f"{name}.csv"
    }
    wrong = {int(row) for fault in CAUGHT_BY for row in tables[name].faults[fault]}

    for fault, reason in CAUGHT_BY.items():
        rows = tables[name].faults[fault]
        caught = sum(reason in refused.get(int(row), "") for row in rows)
        print(f"{name}: {fault}: {caught} of {len(rows)} caught")
        assert len(rows) == caught
    assert wrong == set(refused)


def test_rows_in_are_rows_judged_and_rows_refused(screened):
    """In both tables."""
    tables, out = screened
    data = json.loads((out / "results.json").read_text("utf-8"))

    for role, name in (("hazards", "latrines"), ("receptors", "wells")):
        rows = data["rows"][role]
        assert len(tables[name]) == rows["read"] == rows["judged"] + rows["refused"]
    assert data["totals"]["judged"] == data["rows"]["hazards"]["judged"]
    assert 40 == len(data["by_area"])


def test_doubtful_rows_are_judged_and_counted(screened):
    """Positions of two decimals are judged with the uncertainty that costs, and are the suspect share."""
    tables, out = screened
    data = json.loads((out / "results.json").read_text("utf-8"))
    few = len(tables["latrines"].faults["few decimals"])
    repeated = len(tables["latrines"].faults["repeated id"])

    assert few <= data["rows"]["hazards"]["suspect"] <= few + 60
    assert 0.9 * repeated <= data["inputs"][0]["repeated_ids"] <= repeated

"""What Python users import: frames in, frames out, the same answers as the command line."""

import geopandas
import pytest
import shapely
import yards
from pyproj import Geod

from siting import api
from siting.errors import InputError

pytest.importorskip("pyarrow")
pytest.importorskip("scipy")

CENTIMETRE_M = 0.01
GEOD = Geod(ellps="WGS84")
LON, LAT = 34.0001237, -13.0004321


def points(rows, crs="EPSG:32736", **columns):
    """Places (id, bearing, distance from the well) as a frame."""
    at = [GEOD.fwd(LON, LAT, bearing, distance)[:2] for _, bearing, distance in rows]
    frame = geopandas.GeoDataFrame(
        {"id": [r[0] for r in rows], **columns}, geometry=[shapely.Point(p) for p in at], crs="EPSG:4326"
    )
    return frame.to_crs(crs)


WELLS = points([("W1", 0.0, 0.0), ("W2", 90.0, 2_000.0)])
LATRINES = points([("L1", 10.0, 60.0), ("L2", 20.0, 10.0), ("L3", 30.0, 31.0)])
KINDS = {"hazard_kind": "pit latrine", "receptor_kind": "well"}


def test_every_public_name_is_there():
    """And no other is promised."""
    assert [] == [name for name in api.__all__ if not hasattr(api, name)]
    assert sorted(api.__all__) == api.__all__


def test_a_frame_comes_back_with_what_each_row_came_to():
    """Same rows, index, crs and columns, with the verdict beside them."""
    frame = LATRINES.set_index([[7, 3, 5]])

    got = api.screen(frame, WELLS, **KINDS)

    assert [7, 3, 5] == got.index.tolist()
    assert frame.crs == got.crs
    assert ["meets", "fails", "too close to call"] == got["verdict"].tolist()
    assert ["W1"] * 3 == got["nearest"].tolist()
    assert [60.0, 10.0, 31.0] == pytest.approx(got["distance_m"].tolist(), abs=CENTIMETRE_M)
    assert frame.geometry.equals(got.geometry)


def test_a_row_that_cannot_be_judged_stays_with_its_reason():
    """One row in, one row out."""
    frame = LATRINES.copy()
    frame.loc[1, "geometry"] = None

    got = api.screen(frame, WELLS, **KINDS)

    assert ["meets", "refused", "too close to call"] == got["verdict"].tolist()
    assert "no geometry" in got["reason"][1]


def test_kinds_may_stand_in_a_column():
    """A mixed frame on both sides."""
    mixed = geopandas.pd.concat([LATRINES.assign(kind="latrine"), WELLS.assign(kind="well")], ignore_index=True)

    got = api.screen(mixed, mixed)

    assert ["meets", "fails", "too close to call", "not assessed", "not assessed"] == got["verdict"].tolist()


def test_pairs_closer_than_their_rule():
    """As a table of ids."""
    got = api.pairs(LATRINES, WELLS, **KINDS)

    assert [("L2", "W1")] == list(zip(got["hazard"], got["receptor"], strict=True))
    assert [10.0] == pytest.approx(got["distance_m"].tolist(), abs=CENTIMETRE_M)


def test_parts_of_a_frame_give_what_the_whole_gives():
    """So that partitions can be handed out: `dask_geopandas` calls `screen` on each."""
    whole = api.screen(LATRINES, WELLS, **KINDS)
    parts = [api.screen(LATRINES.iloc[[n]], WELLS, **KINDS) for n in range(3)]

    assert whole["verdict"].tolist() == [part["verdict"].iloc[0] for part in parts]
    assert whole["probability"].tolist() == [part["probability"].iloc[0] for part in parts]


def test_no_rows_give_no_rows():
    """An empty partition has the same columns."""
    got = api.screen(LATRINES.iloc[:0], WELLS, **KINDS)

    assert 0 == len(got)
    assert api.screen(LATRINES, WELLS, **KINDS).columns.tolist() == got.columns.tolist()


def test_a_frame_without_a_crs_is_refused():
    """A datum is never guessed."""
    with pytest.raises(InputError, match="no crs"):
        api.screen(LATRINES.set_crs(None, allow_override=True), WELLS, **KINDS)


def test_many_sites_on_disk_come_to_a_frame(tmp_path):
    """A row a site, worst first, a bad one with its reason; from a folder and from a list of paths."""
    yards.meeting(tmp_path / "a")
    yards.failing(tmp_path / "b")
    (tmp_path / "c.csv").write_text("no,table\n1,2\n")

    of_folder = api.check_many(tmp_path)
    of_list = api.check_many([tmp_path / "a", tmp_path / "b"])

    assert [("b", "fails"), ("c.csv", "refused"), ("a", "meets")] == list(
        zip(of_folder["path"], of_folder["verdict"], strict=True)
    )
    assert "EPSG:4326" == of_folder.crs.to_string()
    assert ["fails", "meets"] == of_list["verdict"].tolist()


def test_many_sites_in_one_frame():
    """Features of several sites, told apart by a column; what is drawn twice or cannot be is a row with its reason."""
    features = geopandas.pd.concat(
        [
            LATRINES.iloc[[0]].assign(site="far", kind="latrine"),
            WELLS.iloc[[0]].assign(site="far", kind="well"),
            LATRINES.iloc[[1]].assign(site="near", kind="latrine"),
            WELLS.iloc[[0]].assign(site="near", kind="well"),
        ],
        ignore_index=True,
    ).rename(columns={"id": "name"})

    got = api.check_many(features).set_index("site")

    assert "fails" == got.loc["near", "verdict"]
    assert "health-care-waste/latrine-to-water-source" == got.loc["near", "worst_rule"]
    assert -20.0 == pytest.approx(got.loc["near", "worst_margin_m"], abs=CENTIMETRE_M)
    assert "fails" != got.loc["far", "verdict"]


def test_one_site_checked_and_a_place_found(tmp_path):
    """The two everyday calls."""
    site = yards.meeting(tmp_path / "a")

    assert "meets" == api.check(site).verdict
    assert api.find(site, wanted="placenta pit").finding.placed[0].candidate.margin_m > 0


def test_the_partitions_of_a_dask_frame(tmp_path):
    """As the documentation of `screen` shows it."""
    dask_geopandas = pytest.importorskip("dask_geopandas")
    parts = dask_geopandas.from_geopandas(LATRINES, npartitions=2)
    meta = api.screen(LATRINES.head(1), WELLS, **KINDS).iloc[:0]

    got = parts.map_partitions(api.screen, WELLS, **KINDS, meta=meta).compute(scheduler="synchronous")

    assert ["meets", "fails", "too close to call"] == got["verdict"].tolist()

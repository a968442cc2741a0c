"""The values a site is made of: what cannot be is refused, and shared errors cancel within a source."""

import copy
import pickle
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box

from siting.frame import Frame
from siting.site import Feature, Origin, Site, Source, Status, named_apart

HERE = Frame(lon=34.1, lat=-13.98)
HAIR_M = 1e-9


def feature(name="W1", *, kind="well", geometry=None, source="points.csv", **more):
    """A well at the origin unless told otherwise."""
    return Feature(
        kind=kind,
        name=name,
        geometry=Point(0.0, 0.0) if geometry is None else geometry,
        source=source,
        **more,
    )


def site(*features, **more):
    """A site of these features."""
    return Site(name="Yard", frame=HERE, features=features, **more)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"sigma_m": -3.0}, r"sigma_m must be >= 0 \(got -3.0\) for well 'W1'"),
        ({"sigma_m": float("nan")}, r"sigma_m must be >= 0 \(got nan\) for well 'W1'"),
        ({"radius_m": -0.1}, r"radius_m must be >= 0 \(got -0.1\) for well 'W1'"),
        ({"radius_m": float("nan")}, r"radius_m must be >= 0 \(got nan\) for well 'W1'"),
        ({"geometry": Polygon()}, "geometry must not be empty for well 'W1'"),
    ],
)
def test_a_feature_that_cannot_be_is_refused(wrong, said):
    """The field, what it has to be, the value and whose it is are named."""
    with pytest.raises(ValueError, match=said):
        feature(**wrong)


@pytest.mark.parametrize(
    ("geometry", "radius_m", "bare"),
    [
        (Point(0, 0), None, True),
        (MultiPoint([(0, 0), (1, 1)]), None, True),
        (Point(0, 0), 0.0, False),
        (Point(0, 0), 0.6, False),
        (LineString([(0, 0), (1, 1)]), None, False),
        (box(0, 0, 1, 1), None, False),
    ],
)
def test_a_point_without_a_size_is_known_as_one(geometry, radius_m, bare):
    """Only points whose size nobody gave are bare; a stated radius of zero is a statement."""
    assert bare is feature(geometry=geometry, radius_m=radius_m).is_bare_point


def test_values_do_not_change():
    """A feature and a site cannot be altered, only replaced."""
    one = feature()

    with pytest.raises(FrozenInstanceError):
        one.sigma_m = 5.0
    assert Status.EXISTING is one.status
    assert Status.CLOSED is replace(one, status=Status.CLOSED).status


@pytest.mark.parametrize("confidence", [0.5, 1.0, 95.0, 0.0, float("nan")])
def test_a_confidence_that_decides_nothing_is_refused(confidence):
    """Half and half, certainty, percent and not-a-number are refused with the value."""
    with pytest.raises(ValueError, match=r"confidence must lie between 0.5 and 1 \(got"):
        site(confidence=confidence)


def test_two_features_of_one_name_are_refused():
    """Names identify rows in every output, so they have to differ."""
    with pytest.raises(ValueError, match="feature names must differ"):
        site(feature(), feature())


def test_features_are_found_by_kind_and_name():
    """In the order read; a name that is not there is a KeyError with that name."""
    yard = site(feature("W2"), feature("L1", kind="pit latrine"), feature("W1"))

    assert ["W2", "W1"] == [f.name for f in yard.of_kinds(["well"])]
    assert ["W2", "L1", "W1"] == [f.name for f in yard.of_kinds(["pit latrine", "well"])]
    assert "L1" == yard.named("L1").name
    with pytest.raises(KeyError, match="L9"):
        yard.named("L9")


def test_boundaries_and_unknown_features_are_kept_apart():
    """A kind nobody recognised stays among the features."""
    yard = site(
        feature("Fence", kind="boundary", geometry=box(0, 0, 9, 9)),
        feature("Thing", kind="unknown"),
        feature(),
    )

    assert ["Fence"] == [f.name for f in yard.boundaries]
    assert ["Thing"] == [f.name for f in yard.unknown]
    assert 3 == len(yard.features)


def test_what_a_source_shares_cancels_within_it():
    """Two wells of one drawing keep their distance whatever its datum; against a phone's point it counts."""
    sources = {
        "plan": Source(name="plan", shared_sigma_m=12.0),
        "phone": Source(name="phone", shared_sigma_m=5.0),
    }
    drawn, beside = feature("A", source="plan", sigma_m=3.0), feature("B", source="plan", sigma_m=4.0)
    walked = feature("C", source="phone", sigma_m=0.0)
    yard = site(drawn, beside, walked, sources=sources)

    assert 5.0 == pytest.approx(yard.separation_sigma_m(drawn, beside), abs=HAIR_M)  # 3, 4
    assert (9.0 + 144.0 + 25.0) ** 0.5 == pytest.approx(yard.separation_sigma_m(drawn, walked), abs=HAIR_M)
    assert yard.separation_sigma_m(drawn, walked) == yard.separation_sigma_m(walked, drawn)


def test_a_source_nobody_described_shares_nothing():
    """A feature may name a source that has no entry."""
    assert 0.0 == site(feature()).shared_sigma_m("points.csv")


def test_an_origin_reads_like_a_place_in_a_file():
    """File, layer in brackets, row; what is not there is not printed."""
    assert "plan.gpkg [wells] row 7" == str(Origin(file="plan.gpkg", layer="wells", row=7))
    assert "points.csv row 2" == str(Origin(file="points.csv", row=2))
    assert "a.geojson" == str(Origin(file="a.geojson"))


def test_repeated_names_are_numbered():
    """The first keeps its name; a feature without one is called by its kind; blanks are made single."""
    names = ["Well", "Well", "", "Well 2", " Old   pit ", ""]

    apart = named_apart(feature(name) for name in names)

    assert ["Well", "Well 2", "well", "Well 2 2", "Old pit", "well 2"] == [f.name for f in apart]


@given(st.lists(st.sampled_from(["", "A", "A 2", "A 2 2", " A", "B"]), max_size=12))
def test_named_apart_always_leaves_names_that_differ(names):
    """Whatever the names, they differ afterwards, and doing it again changes nothing."""
    apart = named_apart(feature(name) for name in names)

    assert len(names) == len({f.name for f in apart})
    assert [f.name for f in apart] == [f.name for f in named_apart(apart)]


def test_a_site_travels_between_processes():
    """Many sites are assessed side by side: a site survives copying and pickling with its geometry."""
    yard = site(feature(radius_m=0.6), sources={"points.csv": Source(name="points.csv", shared_sigma_m=1.0)})

    for twin in (pickle.loads(pickle.dumps(yard)), copy.deepcopy(yard)):
        assert yard.features[0].geometry.equals(twin.features[0].geometry)
        assert yard == twin

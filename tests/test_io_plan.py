"""A plan's records on the ground: by control points, or nowhere on earth; lengths kept, uncertainty carried."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from pyproj import Geod

from siting.errors import InputError
from siting.frame import Frame
from siting.io.plan import PLAN, Control, placed
from siting.io.records import Document, Record
from siting.uncertainty import UNSTATED, sigma_from_radius

GEOD = Geod(ellps="WGS84")
MILLIMETRE_M = 1e-3
HERE = Frame(lon=34.1, lat=-13.98)
"Where the plans of this file are laid."
DOCUMENT = Document(path=Path("plan.dxf"), name="plan.dxf", data=b"")
RECORDS = (
    Record(geometry=shapely.box(0, 0, 12, 8), crs=PLAN, name="Ward", kind="ward"),
    Record(geometry=shapely.Point(42, 0), crs=PLAN, name="Well", kind="well", radius_m=0.75),
)
CORNERS = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))


def on_ground(plan, *, bearing_deg=30.0, scale=1.0):
    """Degrees of plan points [m] when the plan's y axis points along a bearing, its origin at (100, 200)."""
    angle = np.radians(bearing_deg)
    x, y = np.asarray(plan, float).reshape(-1, 2).T * scale
    east = 100.0 + x * np.cos(angle) + y * np.sin(angle)
    north = 200.0 + y * np.cos(angle) - x * np.sin(angle)
    return HERE.to_world(np.column_stack([east, north]))


def control(*, unit_m=1.0, count=4, accuracy_m=0.02, off_m=(0.0, 0.0), **how):
    """Control points at the corners, given in drawing units; the last one may be off."""
    lonlat = on_ground(CORNERS[:count], **how)
    local = HERE.to_local(lonlat)
    local[-1] += off_m
    lonlat = HERE.to_world(local)
    return [
        Control(plan=(x / unit_m, y / unit_m), lonlat=(float(lon), float(lat)), accuracy_m=accuracy_m)
        for (x, y), (lon, lat) in zip(CORNERS[:count], lonlat, strict=True)
    ]


def refusal(points, **more):
    """The faults of a plan that cannot be placed, as text."""
    with pytest.raises(InputError) as caught:
        placed(RECORDS, points, document=DOCUMENT, unit_m=1.0, **more)
    assert {"plan.dxf"} == {fault.file for fault in caught.value.faults}
    return str(caught.value)


@pytest.mark.parametrize("unit_m", [1.0, 0.001, 0.3048])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_records_arrive_where_the_control_points_say(unit_m, count):
    """Records are in metres, control points in drawing units; both come together on the ground to the millimetre."""
    found = placed(RECORDS, control(unit_m=unit_m, count=count), document=DOCUMENT, unit_m=unit_m)

    ward, well = found.places
    expected = on_ground([(42.0, 0.0)])[0]
    assert 0.0 == pytest.approx(GEOD.inv(*expected, *well.lonlat.coords[0])[2], abs=MILLIMETRE_M)
    assert RECORDS == tuple(place.record for place in found.places)
    gap_m = HERE.geometry_to_local(ward.lonlat).distance(HERE.geometry_to_local(well.lonlat))
    assert 30.0 == pytest.approx(gap_m, abs=MILLIMETRE_M)


def test_the_operation_says_what_was_done():
    """Points, scale, turn and residuals in words, with an accuracy that gives back the shared uncertainty."""
    found = placed(RECORDS, control(accuracy_m=2.0), document=DOCUMENT, unit_m=1.0)

    operation = found.places[0].operation
    assert "fit of 4 control points (scale kept, plan up is bearing 30.00 deg, residuals up to 0.00 m" in str(operation)
    expected = found.fitted.sigma_at_m(np.array([[0.0, 0.0]]), control_sigma_m=sigma_from_radius(2.0, level=0.68))[0]
    assert expected == pytest.approx(operation.shared_sigma_m, abs=1e-4)
    assert () == operation.notes
    assert 0.0 == found.places[0].step_m


def test_unstated_accuracy_is_that_of_a_receiver_and_said():
    """Control points without an accuracy are taken as phone fixes, and the operation notes it."""
    found = placed(RECORDS, control(accuracy_m=None), document=DOCUMENT, unit_m=1.0)

    radius_m, level = UNSTATED["receiver"]
    assert sigma_from_radius(radius_m, level=level) / 2.0 < found.places[0].operation.shared_sigma_m
    assert any("accuracy not stated for 4" in note for note in found.places[0].operation.notes)


def test_noisy_control_points_do_not_stretch_the_plan():
    """Points 1 % too far apart shift and turn the plan, but its 30 m stay 30 m; a notice tells the 1 %."""
    found = placed(RECORDS, control(scale=1.01), document=DOCUMENT, unit_m=1.0)

    ward, well = (HERE.geometry_to_local(place.lonlat) for place in found.places)
    assert 30.0 == pytest.approx(ward.distance(well), abs=MILLIMETRE_M)
    codes = {notice.code: notice.message for notice in found.notices}
    assert "1.0% too small" in codes["control-scale"]
    assert "fit within" in codes["control-residuals"]


def test_a_sketch_takes_its_scale_from_the_points():
    """Where the plan's own scale is not known, the points give it."""
    found = placed(RECORDS, control(scale=2.5), document=DOCUMENT, unit_m=1.0, is_scale_known=False)

    ward, well = (HERE.geometry_to_local(place.lonlat) for place in found.places)
    assert 75.0 == pytest.approx(ward.distance(well), abs=MILLIMETRE_M)
    assert "scale 2.500000" in found.places[0].operation.name
    assert () == found.notices


def test_two_points_are_said_to_be_unchecked():
    """They place the plan, and a notice says that a typing error would not show."""
    found = placed(RECORDS, control(count=2), document=DOCUMENT, unit_m=1.0)

    assert ["control-unchecked"] == [notice.code for notice in found.notices]


def test_a_plan_far_beyond_its_control_points_is_said():
    """The turn of the plan is multiplied by the distance: the notice gives the uncertainty at the far end."""
    far = (*RECORDS, Record(geometry=shapely.Point(600, 0), crs=PLAN))

    found = placed(far, control(accuracy_m=1.0), document=DOCUMENT, unit_m=1.0)

    assert ["control-far"] == [notice.code for notice in found.notices]
    near = placed(RECORDS, control(accuracy_m=1.0), document=DOCUMENT, unit_m=1.0)
    assert found.places[0].operation.shared_sigma_m > 3.0 * near.places[0].operation.shared_sigma_m


def test_a_wrong_point_is_named():
    """One of four 30 m off, with file."""
    assert "control point 4 lies" in refusal(control(off_m=(20.0, 22.0)))


def test_mirrored_points_and_other_units_are_refused():
    """Exchanged x and y; a plan in millimetres said to be in metres."""
    points = control()
    mirrored = [Control(plan=point.plan[::-1], lonlat=point.lonlat, accuracy_m=point.accuracy_m) for point in points]

    assert "mirrored" in refusal(mirrored)
    assert 'write unit = "mm"' in refusal(control(unit_m=0.001))
    assert "1 control point" in refusal(points[:1])


@pytest.mark.parametrize(
    ("lonlat", "said"),
    [((-13.98, 134.1), "exchanged they would fit"), ((0.0, 0.0), "longitude 0"), ((34.1, 88.0), "latitude 88")],
)
def test_control_points_off_the_earth_are_refused(lonlat, said):
    """Exchanged degrees, empty cells and poles; the fault gives the number of the point."""
    text = refusal([*control(), Control(plan=(1.0, 1.0), lonlat=lonlat)])

    assert "control point 5" in text
    assert said in text


def test_without_control_points_a_plan_stays_where_it_is():
    """Metres of the plan, no place on earth, no frame, no uncertainty shared."""
    found = placed(RECORDS, [], document=DOCUMENT, unit_m=0.001)

    assert not found.frame.on_earth
    assert found.fitted is None
    assert RECORDS[0].geometry.equals(found.places[0].lonlat)
    assert 0.0 == found.places[0].operation.shared_sigma_m
    assert "no place on earth" in str(found.places[0].operation)


def test_nothing_to_place_is_nothing():
    """A drawing whose records were all faulty still has its control points checked."""
    assert () == placed([], control(), document=DOCUMENT, unit_m=1.0).places

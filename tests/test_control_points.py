"""A plan tied to the ground: what the fit gives back, how sure it is, and what it refuses."""

import numpy as np
import pytest

from siting.control_points import (
    UNITS_M,
    checked_fit,
    fit,
    is_mirrored,
    left_out,
    likely_unit,
    scale_sigma,
    suspect,
)
from siting.errors import InputError

ROUNDING_M = 1e-6
CORNERS = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0], [25.0, 70.0]])
"Five points of a plan in metres."


def turned(points, *, bearing_deg=25.0, scale=1.0, shift_m=(1000.0, -500.0)):
    """Points of a plan whose y axis is laid along a bearing."""
    angle = np.radians(bearing_deg)
    x, y = np.asarray(points, float).T
    east = x * np.cos(angle) + y * np.sin(angle)
    north = y * np.cos(angle) - x * np.sin(angle)
    return scale * np.column_stack([east, north]) + shift_m


def refusal(*args, **more):
    """The text of the error that checked_fit raises."""
    with pytest.raises(InputError) as caught:
        checked_fit(*args, **more)
    (fault,) = caught.value.faults
    assert fault.needed
    assert fault.do_next
    return str(fault)


@pytest.mark.parametrize("scale", [None, 1.0])
@pytest.mark.parametrize("bearing_deg", [0.0, 25.0, 180.0, 359.0])
def test_a_turn_comes_back(scale, bearing_deg):
    """Any turn is found with a free and with a fixed scale, and nothing is left over."""
    found = fit(CORNERS, turned(CORNERS, bearing_deg=bearing_deg), scale=scale)

    assert 0.0 == pytest.approx((found.plan_up_bearing_deg - bearing_deg + 180) % 360 - 180, abs=1e-9)
    assert 0.0 == pytest.approx((found.rotation_deg + bearing_deg + 180) % 360 - 180, abs=1e-9)
    assert 1.0 == pytest.approx(found.scale, abs=1e-12)
    assert 0.0 == pytest.approx(found.largest_residual_m, abs=ROUNDING_M)
    assert turned([[7.0, 8.0]], bearing_deg=bearing_deg) == pytest.approx(found.to_ground_m([[7.0, 8.0]]), abs=1e-6)


def test_two_points_leave_no_check():
    """Two points fit exactly with a free scale: no standard error, and an uncertainty only where one is stated."""
    found = fit(CORNERS[:2], turned(CORNERS[:2], scale=2.0))

    assert 2.0 == pytest.approx(found.scale)
    assert found.sigma0_m is None
    assert 0 == found.degrees_of_freedom
    with pytest.raises(ValueError, match="control_sigma_m must be stated"):
        found.sigma_at_m(CORNERS)
    assert 3.0 / np.sqrt(2) == pytest.approx(found.sigma_at_m(CORNERS[:2].mean(axis=0)[None], control_sigma_m=3.0)[0])


def test_two_points_with_a_known_scale_check_one_length():
    """60 m on the plan and 60.4 m on the ground leave 0.2 m at each end, and one degree of freedom."""
    found = fit(CORNERS[:2], np.array([[0.0, 0.0], [60.4, 0.0]]), scale=1.0)

    assert 1 == found.degrees_of_freedom
    assert np.array([[0.2, 0.0], [-0.2, 0.0]]) == pytest.approx(np.array(found.residuals_m), abs=ROUNDING_M)
    assert np.sqrt(0.08) == pytest.approx(found.sigma0_m)
    assert found.is_scale_fixed


def test_a_fixed_scale_keeps_the_plans_lengths():
    """Control points 1 % too far apart do not stretch a plan whose scale is known."""
    found = fit(CORNERS, turned(CORNERS, scale=1.01), scale=1.0)

    moved = found.to_ground_m(CORNERS)

    assert 60.0 == pytest.approx(np.linalg.norm(moved[1] - moved[0]), abs=ROUNDING_M)
    assert 0.1 < found.largest_residual_m


@pytest.mark.parametrize("scale", [None, 1.0])
def test_uncertainty_agrees_with_ten_thousand_noisy_fits(scale):
    """The scatter of a fitted point is what sigma_at_m says, in the worse of the two axes, within 3 %."""
    rng = np.random.default_rng(18)
    ground_m, far = turned(CORNERS, bearing_deg=0.0), np.array([[30.0, 150.0]])
    runs = [fit(CORNERS, ground_m + rng.normal(0.0, 0.5, (5, 2)), scale=scale) for _ in range(10_000)]
    places = np.array([run.to_ground_m(far)[0] for run in runs])

    expected = fit(CORNERS, ground_m, scale=scale).sigma_at_m(far, control_sigma_m=0.5)[0]

    assert expected == pytest.approx(places.std(axis=0).max(), rel=0.03)
    assert 0.5 == pytest.approx(np.sqrt(np.mean([run.sigma0_m**2 for run in runs])), rel=0.03)


def test_uncertainty_grows_outwards():
    """It is least in the middle of the control points, sigma over root n, and takes the larger of two statements."""
    found = fit(CORNERS, turned(CORNERS))

    middle, edge = found.sigma_at_m(np.array([CORNERS.mean(axis=0), [200.0, 200.0]]), control_sigma_m=1.0)

    assert 1.0 / np.sqrt(5) == pytest.approx(middle)
    assert edge > 2.0 * middle
    noisy = fit(CORNERS, turned(CORNERS) + np.array([[0, 2], [0, -2], [0, 2], [0, -2], [0, 0]]))
    assert noisy.sigma0_m / np.sqrt(5) == pytest.approx(
        noisy.sigma_at_m(CORNERS.mean(axis=0)[None], control_sigma_m=0.01)[0]
    )


def test_large_coordinates_lose_no_millimetre():
    """Grid coordinates of millions of metres, in millimetres on the plan, come out to the tenth of a millimetre."""
    plan = (CORNERS + np.array([500_000.0, 8_450_000.0])) * 1000.0

    found = fit(plan, turned(CORNERS))

    assert turned(CORNERS) == pytest.approx(found.to_ground_m(plan), abs=1e-4)


@pytest.mark.parametrize("bad", range(5))
def test_the_bad_point_is_named(bad):
    """One of five points 8 m off, the others good to decimetres: exactly that one is named, with its miss."""
    rng = np.random.default_rng(7)
    ground_m = turned(CORNERS) + rng.normal(0.0, 0.1, (5, 2))
    ground_m[bad] += [5.0, -6.2]
    names = ["gate", "north corner", "ward", "well", "store"]

    text = refusal(CORNERS, ground_m, names=names, scale=1.0)

    assert f"control point {bad + 1} ({names[bad]}) lies" in text
    assert 8.0 == pytest.approx(left_out(CORNERS, ground_m)[bad].miss_m, abs=1.0)


def test_good_points_are_not_suspected():
    """With honest noise of 3 m no more than one set in twenty is suspected (the level of the test)."""
    rng = np.random.default_rng(3)
    seen = [suspect(left_out(CORNERS, turned(CORNERS) + rng.normal(0.0, 3.0, (5, 2)))) for _ in range(400)]

    assert sum(each is not None for each in seen) <= 0.05 * 400 + 3 * np.sqrt(400 * 0.05 * 0.95)
    assert any(each is not None for each in seen), "the test can see something at all"


def test_centimetres_are_no_blunder():
    """Points that agree to the micrometre do not make one of 5 cm a blunder: nobody reads control points finer."""
    ground_m = turned(CORNERS)
    ground_m[2] += [0.05, 0.0]

    assert suspect(left_out(CORNERS, ground_m)) is None


def test_three_points_cannot_tell_which():
    """Three points show that something is wrong, by their residuals, but not which one."""
    ground_m = turned(CORNERS[:3])
    ground_m[0] += [3.0, 0.0]

    assert suspect(left_out(CORNERS[:3], ground_m)) is None
    assert 0.5 < checked_fit(CORNERS[:3], ground_m).sigma0_m


def test_leaving_one_out_of_two_places_tells_nothing():
    """Where the others lie at one place they cannot say anything of the one left out."""
    plan = np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 0.0], [10.0, 0.0]])

    assert [1.0] == [each.chance for each in left_out(plan, plan)[3:]]


@pytest.mark.parametrize("count", [3, 4, 5])
def test_a_mirrored_plan_is_refused(count):
    """x and y exchanged fits only turned over; the error says so before it blames a point or the unit."""
    text = refusal(CORNERS[-count:][:, ::-1], turned(CORNERS[-count:]), scale=1.0)

    assert "mirrored" in text
    assert "exchanged" in text


def test_what_cannot_be_mirrored_is_not():
    """Good plans, noisy plans, points on one line and two points are not called mirrored."""
    line = np.array([[0.0, 0.0], [20.0, 0.0], [50.0, 0.0]])
    noise = np.random.default_rng(5).normal(0.0, 3.0, (5, 2))

    assert not is_mirrored(CORNERS, turned(CORNERS))
    assert not is_mirrored(CORNERS, turned(CORNERS) + noise)
    assert not is_mirrored(line, turned(line))
    assert not is_mirrored(CORNERS[:2], turned(CORNERS[:2]))
    assert is_mirrored(CORNERS[:, ::-1], turned(CORNERS) + noise)


def test_points_nearly_on_a_line_are_given_the_benefit_of_the_doubt():
    """Decimetres across a line of 50 m fit better turned over by chance; so does noise that fits neither way well."""
    nearly = np.array([[0.0, 0.0], [20.0, 0.1], [50.0, 0.0]])
    bent = np.array([[0.0, 0.0], [20.0, 2.0], [50.0, 0.0]])

    assert not is_mirrored(nearly, nearly * [1.0, -1.0])
    assert not is_mirrored(bent, bent * [1.0, -3.0])


@pytest.mark.parametrize(("unit", "length_m"), [(u, m) for u, m in UNITS_M.items() if u not in ("m", "yd")])
def test_a_plan_in_another_unit_is_refused_by_name(unit, length_m):
    """Coordinates in another unit, said to be metres, are refused with the likely unit."""
    text = refusal(CORNERS / length_m, turned(CORNERS), scale=1.0)

    assert f'as if its unit were "{unit}"' in text
    assert f'write unit = "{unit}"' in text
    assert "known length" in text


def test_two_points_show_a_wrong_unit_too():
    """Even without a check among themselves, two points tell millimetres from metres."""
    assert '"mm"' in refusal(CORNERS[:2] * 1000.0, turned(CORNERS[:2]), scale=1.0, control_sigma_m=3.0)


def test_a_scale_of_no_unit_is_refused_without_a_guess():
    """A plan half as large as the ground is in no unit: nothing is guessed."""
    text = refusal(CORNERS / 2.0, turned(CORNERS), scale=1.0)

    assert "as if" not in text
    assert "2 m long, where 1 m was expected" in text


@pytest.mark.parametrize(("scale", "control_sigma_m", "refused"), [(1.015, 0.0, False), (1.05, 0.0, True)])
def test_the_scale_may_be_off_by_what_the_points_allow(scale, control_sigma_m, refused):
    """Two percent are always allowed; more only where the points are too poor to say so."""
    ground_m = turned(CORNERS, scale=scale)

    if refused:
        assert "m long" in refusal(CORNERS, ground_m, scale=1.0, control_sigma_m=control_sigma_m)
    else:
        assert 1.0 == checked_fit(CORNERS, ground_m, scale=1.0, control_sigma_m=control_sigma_m).scale


def test_poor_points_allow_more_but_not_everything():
    """With 3.3 m a point, 5 % over 60 m are no contradiction; a third is, however poor the points."""
    assert 1.0 == pytest.approx(checked_fit(CORNERS, turned(CORNERS, scale=1.05), scale=1, control_sigma_m=3.3).scale)
    assert "m long" in refusal(CORNERS, turned(CORNERS, scale=1.34), scale=1.0, control_sigma_m=50.0)


def test_the_uncertainty_of_a_scale():
    """Two points 100 m apart, each 1 m off along the line, tell the scale to 1.4 %."""
    found = fit(np.array([[0.0, 0.0], [100.0, 0.0]]), np.array([[0.0, 0.0], [100.0, 0.0]]))

    assert np.sqrt(2.0) / 100.0 == pytest.approx(scale_sigma(found, control_sigma_m=1.0))


@pytest.mark.parametrize(
    ("plan", "ground_m", "said"),
    [
        (CORNERS[:0], CORNERS[:0], "0 control points"),
        (CORNERS[:1], CORNERS[:1], "1 control point\n"),
        (CORNERS[[1, 1, 1]], CORNERS[:3], "all 3 control points lie at one place on the plan"),
        (CORNERS[:3], CORNERS[[1, 1, 1]], "all 3 control points lie at one place on the ground"),
        (np.array([[0.0, np.nan], [1.0, 1.0]]), CORNERS[:2], "not finite"),
    ],
)
def test_too_few_or_coincident_points_are_refused(plan, ground_m, said):
    """Fewer than two different places on either side cannot be fitted: the error says which side."""
    assert said in refusal(plan, ground_m)


def test_unequal_lists_are_a_programmers_error():
    """Points must pair up."""
    with pytest.raises(ValueError, match="got 2 and 3"):
        fit(CORNERS[:2], CORNERS[:3])


@pytest.mark.parametrize(
    ("metres", "unit"), [(0.00098, "mm"), (0.0254, "in"), (0.3048006, "ft"), (0.93, "yd"), (0.0, None), (0.5, None)]
)
def test_units_are_recognised_by_their_length(metres, unit):
    """Within a tenth of a unit its name is told; otherwise, and for nothing at all, none."""
    assert unit == likely_unit(metres)

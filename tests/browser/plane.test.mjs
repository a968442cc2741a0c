// The pure functions of the map page, against values worked out by hand. Run: node --test tests/browser
import assert from "node:assert/strict";
import { createRequire } from "node:module";
import test from "node:test";

const plane = createRequire(import.meta.url)("../../siting/outputs/page/plane.js");
const HAIR = 1e-9;
const near = (expected, actual, tolerance = HAIR) => assert.ok(Math.abs(expected - actual) <= tolerance, `${expected} is not ${actual}`);
const apart = (a, b) => plane.shortest(plane.taken_apart(a), plane.taken_apart(b)).d;
const point = (x, y) => ({ type: "Point", coordinates: [x, y] });
const box = (w, s, e, n) => ({ type: "Polygon", coordinates: [[[w, s], [e, s], [e, n], [w, n], [w, s]]] });

test("point to point is the hypotenuse", () => near(5, apart(point(0, 0), point(3, 4))));
test("point to box is to its nearest edge, or to its corner", () => {
  near(2, apart(point(-2, 1), box(0, 0, 4, 3)));
  near(5, apart(point(-3, -4), box(0, 0, 4, 3)));
});
test("a point in a box has no distance, one in its hole has", () => {
  const ring = box(0, 0, 10, 10);
  ring.coordinates.push([[3, 3], [7, 3], [7, 7], [3, 7], [3, 3]]);
  near(0, apart(point(1, 1), ring));
  near(2, apart(point(5, 5), ring));
});
test("crossing lines touch, parallel ones do not", () => {
  const line = (...c) => ({ type: "LineString", coordinates: c });
  near(0, apart(line([0, 0], [4, 4]), line([0, 4], [4, 0])));
  near(3, apart(line([0, 0], [4, 0]), line([0, 3], [4, 3])));
});
test("a box wholly inside another has no distance to it", () => near(0, apart(box(4, 4, 5, 5), box(0, 0, 10, 10))));
test("an outline turned by 90 degrees clockwise lies across", () => {
  const shape = plane.outline_at({ corners: [[-1, -2], [1, -2], [1, 2], [-1, 2], [-1, -2]], radius: 0 }, 10, 20, 90);
  const xs = shape.areas[0][0].map((p) => p[0]);
  near(8, Math.min(...xs));
  near(12, Math.max(...xs));
});
test("a margin outside is distance less radius, gap and limit", () => {
  const r = { sense: "outside", limitM: 30, gap: 0.6 };
  const outline = { corners: [[0, 0]], radius: 0.73 };
  near(50 - 0.73 - 0.6 - 30, plane.margin_of(r, outline, plane.outline_at(outline, 50, 0, 0), plane.taken_apart(point(0, 0))));
});
test("a margin inside is depth less the limit, and negative by how far it sticks out", () => {
  const r = { sense: "inside", limitM: 3 }, outline = { corners: [[0, 0]], radius: 1 }, land = plane.taken_apart(box(0, 0, 100, 80));
  near(10 - 1 - 3, plane.margin_of(r, outline, plane.outline_at(outline, 10, 40, 0), land));
  near(-2 - 1 - 3, plane.margin_of(r, outline, plane.outline_at(outline, -2, 40, 0), land));
});
test("probability is one half at the limit and 0.95 at 1.6449 sigma", () => {
  near(0.5, plane.probability(0, 1, false), 1e-7);
  near(0.95, plane.probability(1.6448536269514722, 1, false), 1e-6);
  assert.equal(plane.probability(0, 0, false), 1);
  assert.equal(plane.probability(0, 0, true), 0);
});
test("verdicts change at the confidence and at its complement", () => {
  assert.deepEqual([0.95, 0.94, 0.05, 0.06].map((p) => plane.decide(p, 0.95)), ["meets", "too close to call", "fails", "too close to call"]);
});
test("numbers are rounded so that they flatter nobody", () => {
  assert.equal(plane.floored(29.999), "29.99");
  assert.equal(plane.ceiled(29.991), "30.00");
  assert.equal(plane.signed(-0.001), "\u22120.01");
  assert.equal(plane.signed(1.239), "+1.23");
  assert.equal(plane.probability_text(0.9499), "0.949");
});

const shared = { rule: 1, id: "x", relation: "at_least", unit: "m", written: "", measure: "distance", strength: "must", outline: "pit", perUnit: 1, side: "", sector: 180, gap: 0, because: "", recorded: false, sigma: 0 };
const feature = (name, geometry, more) => ({ name, kind: "well", status: "existing", parts: plane.taken_apart(geometry), ...more });
const trial = (r, parts) => ({ outlines: { pit: { corners: [[0, 0]], radius: 1 }, enclosure: { corners: [[0, 0]], radius: 2 } }, parts, requirements: [{ ...shared, ...r }] });

test("being within reach of one of several is enough, and the nearest is named", () => {
  const features = [feature("far", point(100, 0)), feature("near", point(0, 20))];
  const r = { sense: "within", relation: "at_most", limitM: 50, required: 50, geometry: 0, among: [0, 1] };
  const both = plane.taken_apart({ type: "MultiPoint", coordinates: [[100, 0], [0, 20]] });
  const [row] = plane.judge(trial(r, [both]), features, { x: 0, y: 0, degrees: 0 }, 0.95);
  assert.equal(row.feature, 1);
  near(19, row.value);
  near(31, row.margin, 1e-6);
});
test("on the side that binds the plain distance decides, off it how far that side begins", () => {
  const features = [feature("well", point(0, 0), { radius: 0.5 })];
  const south = plane.taken_apart(box(-1000, -1000, 1000, 0));
  const r = { sense: "outside", sided: true, side: "up-slope", limitM: 0, required: 30, geometry: 0, feature: 0, sideBearing: [180, 0, 0] };
  const [on] = plane.judge(trial(r, [south]), features, { x: 0, y: -20, degrees: 0 }, 0.95);
  const [off] = plane.judge(trial(r, [south]), features, { x: 0, y: 12, degrees: 0 }, 0.95);
  near(20 - 1 - 0.5 - 30, on.margin, 1e-6);
  near(12 - 1, off.margin, 1e-6);
  assert.equal(on.because, "applies up-slope of well");
});
test("days are metres over the velocity", () => {
  const features = [feature("well", point(40, 0))];
  const r = { sense: "outside", measure: "travel time", unit: "days", limitM: 25, required: 50, perUnit: 0.5, feature: 0 };
  const [row] = plane.judge(trial(r, []), features, { x: 0, y: 0, degrees: 0 }, 0.95);
  near(39 / 0.5, row.value, 1e-6);
  near(39 / 0.5 - 50, row.margin, 1e-6);
});
test("slope is that of the triangle below, beyond them that of the nearest, and on a seam the first", () => {
  const faces = { corners: [[0, 0], [10, 0], [10, 10], [0, 10]], triangles: [[0, 1, 2, 4], [0, 2, 3, 9]] };
  assert.deepEqual([[8, 3], [3, 8], [20, 5], [-7, 5], [5, 5], [10, 30]].map((p) => plane.slope_at(faces, p)), [4, 9, 4, 9, 4, 4]);
});
test("a bearing is downwind of the sector opposite, each sector from its anticlockwise edge, calm hours counted", () => {
  const rose = { shares: [10, 20, 30, 0, 0, 0, 0, 20], calm: 20 };
  // Towards the south blows what comes from the north; 202.4 and 22.6 degrees are either side of an edge.
  assert.deepEqual([180, 202.4, 202.6, 270, 135].map((b) => plane.share_downwind(rose, b)), [10, 10, 20, 30, 20]);
});
test("a side that is entered is decided by the least move that ends it", () => {
  const features = [feature("well", point(0, 0), { radius: 0.5 })];
  const south = plane.taken_apart(box(-1000, -1000, 1000, 0));
  const r = { sense: "outside", sided: true, side: "up-slope", limitM: 0, required: 30, sigma: 1, geometry: 0, feature: 0, sideBearing: [180, 0, 0] };
  // The disc of 1 m reaches 0.5 m over the line: half a metre to the north ends it, 29 m farther off would too.
  const [row] = plane.judge(trial(r, [south]), features, { x: 0, y: 0.5, degrees: 0 }, 0.95);
  near(-30, row.margin, 1e-6);
  assert.equal(row.verdict, "too close to call");
});
test("degrees lead back to the plane they were made from, across the antimeridian too", () => {
  const world = { unit: 300, lon: [179.9995, 0, 2.76e-3, 0, 0, 4e-9, 0, 0, 0, 0, 0], lat: [-13.25, 0, 0, 2.71e-3, 3e-9, 0, 0, 0, 0, 0, 0] };
  for (const [x, y] of [[0, 0], [250, -180], [-299, 120]]) {
    const { lat, lon } = plane.to_world(world, x, y);
    const [u, v] = plane.from_world(world, lat, lon);
    near(x, u, 1e-5);
    near(y, v, 1e-5);
  }
  assert.equal(plane.from_world(world, 51, 0), null);
});
test("a side that is entered governs although the middle of the place lies off it", () => {
  const features = [feature("entered", point(0, 0)), feature("beside", point(0, 3))];
  const south = (edge) => plane.taken_apart(box(-1000, -1000, 1000, edge));
  const rule = { ...shared, sense: "outside", sided: true, side: "up-slope", limitM: 0, required: 30 };
  const made = trial({}, [south(0), south(-0.5)]);
  made.requirements = [{ ...rule, geometry: 0, feature: 0, sideBearing: [180, 0, 0] }, { ...rule, geometry: 1, feature: 1, sideBearing: [180, 0, 3] }];
  // The disc of 1 m round (0, 0.2) reaches 0.8 m into the first side and 0.3 m into the second.
  const [row] = plane.judge(made, features, { x: 0, y: 0.2, degrees: 0 }, 0.95);
  assert.equal(row.feature, 0);
});

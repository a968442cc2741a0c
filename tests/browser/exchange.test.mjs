// Coordinates that people type, and the files that the page saves. Run: node --test tests/browser
import assert from "node:assert/strict";
import { createRequire } from "node:module";
import test from "node:test";

const exchange = createRequire(import.meta.url)("../../siting/outputs/page/exchange.js");

for (const [typed, lat, lon] of [
  ["-13.2498721, 34.5006122", -13.2498721, 34.5006122],
  ["  -13.25 34.5 ", -13.25, 34.5],
  ["\u221213.25; 34.5", -13.25, 34.5],
  ["13.25 S, 34.5 E", -13.25, 34.5],
  ["S13.25 E34.5", -13.25, 34.5],
  ["34.5 E 13.25 S", -13.25, 34.5],
  ["13.25 N, 34.5 W", 13.25, -34.5],
]) {
  test(`"${typed}" is read as latitude and longitude`, () => assert.deepEqual(exchange.parsed(typed, true), { lat, lon }));
}
for (const typed of ["", "here", "13.25", "1, 2, 3", "13,25 34,5", "13\u00b015'00\" S 34\u00b030'00\" E", "134.5, 13.25", "13.25 N 34.5", "-13.25 S, 34.5 E"]) {
  test(`"${typed}" is refused in words, never guessed at`, () => assert.match(exchange.parsed(typed, true).refused, /needed|not both|latitude first/));
}
test("on a plan without a place on earth the numbers are metres", () => assert.deepEqual(exchange.parsed("12.5 -7", false), { x: 12.5, y: -7 }));

const ring = [[34, -13], [34, -12.9], [34.1, -12.9], [34.1, -13], [34, -13]];
const point = { name: 'A & "B" <c>', about: "ok", lat: -13.1, lon: 34.2, outlines: [{ part: "pit", ring }] };

test("names in a GPX file cannot end their element", () => {
  const text = exchange.gpx([{ ...point, name: "a\u0001</name>&" }]);
  assert.match(text, /<wpt lat="-13.10000000" lon="34.20000000"><name>a&#60;\/name&#62;&#38;<\/name>/);
});
test("outlines in a GeoJSON file run counterclockwise, longitude first", () => {
  const [where, outline] = JSON.parse(exchange.geojson([point])).features;
  assert.deepEqual(where.geometry.coordinates, [34.2, -13.1]);
  assert.deepEqual(outline.geometry.coordinates[0], [...ring].reverse());
  assert.deepEqual(JSON.parse(exchange.geojson([{ ...point, outlines: [{ part: "pit", ring: [...ring].reverse() }] }])).features[1], outline);
});

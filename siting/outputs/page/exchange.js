"use strict";
// Coordinates that people type, and places as files that other programs read. Nothing here touches the page.
const exchange = (function () {
  const NUMBER = /[-+\u2212]?\d+(?:\.\d+)?/g;

  // Two numbers as latitude and longitude, or as metres east and north where the plan has no place on earth.
  function parsed(text, on_earth) {
    const plain = text.trim().replace(/\u2212/g, "-");
    const hemispheres = plain.match(/[NSEW]/gi) || [];
    const numbers = (plain.match(NUMBER) || []).map(Number);
    if (numbers.length !== 2) return { refused: on_earth ? "two numbers are needed: latitude, longitude in decimal degrees, such as -13.2498721, 34.5006122" : "two numbers are needed: metres east, metres north" };
    let [first, second] = numbers;
    if (!on_earth) return { x: first, y: second };
    const letters = hemispheres.map((letter) => letter.toUpperCase()).join("");
    if (letters && !/^([NS][EW]|[EW][NS])$/.test(letters)) return { refused: "one of N or S and one of E or W are needed, or a sign and no letters" };
    if (letters && numbers.some((number) => number < 0)) return { refused: "a sign or the letters N, S, E, W, not both" };
    if (/^[EW]/.test(letters)) [first, second] = [second, first];
    if (letters.includes("S")) first = -Math.abs(first);
    if (letters.includes("W")) second = -Math.abs(second);
    if (Math.abs(first) > 90 || Math.abs(second) > 180) return { refused: "latitude first, from -90 to 90, then longitude, from -180 to 180" };
    return { lat: first, lon: second };
  }

  function escaped(text) {
    return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`).replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, "");
  }

  const degrees = (value) => value.toFixed(8);

  // GPX 1.1: one waypoint a place, with what is said of it.
  function gpx(points) {
    const made = points.map((p) => `<wpt lat="${degrees(p.lat)}" lon="${degrees(p.lon)}"><name>${escaped(p.name)}</name><desc>${escaped(p.about)}</desc></wpt>`);
    return `<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="siting" xmlns="http://www.topografix.com/GPX/1/1">\n${made.join("\n")}\n</gpx>\n`;
  }

  // GeoJSON (RFC 7946): longitude first, outlines counterclockwise.
  function geojson(points) {
    const features = points.flatMap((p) => [
      { type: "Feature", properties: { name: p.name, about: p.about }, geometry: { type: "Point", coordinates: [Number(degrees(p.lon)), Number(degrees(p.lat))] } },
      ...p.outlines.map(({ part, ring }) => ({ type: "Feature", properties: { name: p.name, part }, geometry: { type: "Polygon", coordinates: [counterclockwise(ring).map(([lon, lat]) => [Number(degrees(lon)), Number(degrees(lat))])] } })),
    ]);
    return JSON.stringify({ type: "FeatureCollection", features }, null, 1) + "\n";
  }

  function counterclockwise(ring) {
    let twice = 0;
    for (let i = 1; i < ring.length; i++) twice += (ring[i][0] - ring[0][0]) * (ring[i - 1][1] - ring[0][1]) - (ring[i - 1][0] - ring[0][0]) * (ring[i][1] - ring[0][1]);
    return twice <= 0 ? ring : [...ring].reverse();
  }

  return { parsed, gpx, geojson };
})();
if (typeof module !== "undefined") module.exports = exchange;

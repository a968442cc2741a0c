// Layers beside what stands: the water beneath, heights, enclosures, the walk, the successor, ground closed to wells,
// and where what fails would meet. Each has a line style of its own, so that no colour is needed to tell them apart.
const overlays = (function () {
  const { INK, drawn, element, at } = furniture;
  const WATER = "#1b4f72";
  const quiet = { fill: false, interactive: false };
  const STYLES = {
    contour: { ...quiet, color: WATER, weight: 1.4, dashArray: "14 4 2 4", pane: "water" },
    flow: { ...quiet, color: WATER, weight: 1.8, pane: "water" },
    enclosure: { ...quiet, color: INK, weight: 1.3, dashArray: "6 3", pane: "features" },
    walk: { ...quiet, color: INK, weight: 4, dashArray: "0.1 8", lineCap: "round", pane: "walks" },
    reserve: { ...quiet, color: INK, weight: 1.3, dashArray: "2 3", pane: "places" },
    wells: { ...quiet, color: WATER, weight: 1.8, dashArray: "10 5", pane: "zones" },
    ghost: { ...quiet, color: INK, weight: 1.4, dashArray: "3 3", pane: "lines" },
    move: { ...quiet, color: INK, weight: 1.6, dashArray: "9 4", pane: "lines" },
  };

  // What lies beneath, and the enclosures: the same whatever is chosen.
  function on(desk) {
    const { data } = desk;
    const made = { water: L.layerGroup(), heights: L.layerGroup(), enclosures: L.layerGroup(), mendings: L.layerGroup() };
    for (const [text, parts] of data.water) {
      for (const part of parts) {
        made.water.addLayer(L.polyline(part.map(at), STYLES.contour));
        written_along(desk, made.water, part.flat(), text, "level");
      }
    }
    if (data.flow) draw_flow(desk, made.water, data.flow);
    for (const [x, y, height] of data.heights) {
      const text = element("span", {});
      text.textContent = height.toFixed(2);
      const cross = drawn("svg", { width: 9, height: 9, viewBox: "-4.5 -4.5 9 9", "aria-hidden": "true" }, drawn("path", { d: "M-4 0H4M0 -4V4", stroke: INK, "stroke-width": 1.2 }));
      const both = element("div", {}, cross, text);
      desk.written.heights.push({ xy: [x, y], text });
      made.heights.addLayer(L.marker(at([x, y]), { icon: L.divIcon({ className: "height", html: both, iconSize: [9, 9] }), interactive: false, keyboard: false, zIndexOffset: -600 }));
    }
    for (const f of data.features) if (f.enclosure) made.enclosures.addLayer(L.geoJSON(f.enclosure, { style: STYLES.enclosure, interactive: false, pane: "features" }));
    for (const m of data.mendings) mend(desk, made.mendings, m);
    return made;
  }

  // A text that keeps clear of all others, somewhere along a line, or along one of several legs.
  function written_along(desk, layer, ends, text, css, legs) {
    const span = element("span", {});
    span.textContent = text;
    const middle = at([(ends[0] + ends[2]) / 2, (ends[1] + ends[3]) / 2]);
    const marker = L.marker(middle, { icon: L.divIcon({ className: css, html: span, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: 300 });
    layer.addLayer(marker);
    desk.written.layers.push({ ends, text, marker, layer, legs });
  }

  function barbs(x1, y1, x2, y2, length) {
    const turn = Math.atan2(y2 - y1, x2 - x1);
    return [2.62, -2.62].map((by) => [x2 + length * Math.cos(turn + by), y2 + length * Math.sin(turn + by)]);
  }

  // A hollow arrow, unlike any other line here.
  function draw_flow(desk, layer, [x1, y1, x2, y2, text]) {
    const long = Math.hypot(x2 - x1, y2 - y1), ux = (x2 - x1) / long, uy = (y2 - y1) / long, w = long / 14;
    const along = (share, out) => [x1 + share * (x2 - x1) - uy * out, y1 + share * (y2 - y1) + ux * out];
    const outline = [along(0, w), along(0.68, w), along(0.68, 2.4 * w), [x2, y2], along(0.68, -2.4 * w), along(0.68, -w), along(0, -w)];
    layer.addLayer(L.polygon(outline.map(at), { ...STYLES.flow, fill: true, fillColor: "#fff", fillOpacity: 0.85 }));
    written_along(desk, layer, [x1, y1, x2, y2], text, "level");
  }

  // An arrow to where what fails would meet, with the ghost of it there.
  function mend(desk, layer, m) {
    const [x, y] = m.from, f = desk.data.features[m.of], dx = m.x - x, dy = m.y - y;
    const [left, right] = barbs(x, y, m.x, m.y, Math.min(3, 0.3 * Math.hypot(dx, dy)));
    layer.addLayer(L.polyline([at(m.from), at([m.x, m.y])], STYLES.move));
    layer.addLayer(L.polyline([at(left), at([m.x, m.y]), at(right)], { ...STYLES.move, dashArray: null }));
    if (f.points) {
      const s = desk.data.symbols[f.symbol];
      const icon = drawn("svg", { width: 26, height: 26, viewBox: "-13 -13 26 26", "aria-hidden": "true" }, drawn("path", { d: s.path, fill: "#fff", "fill-opacity": 0.6, stroke: INK, "stroke-width": 1.4, "stroke-dasharray": "3 3" }));
      layer.addLayer(L.marker(at([m.x, m.y]), { icon: L.divIcon({ className: "ghost", html: icon, iconSize: [26, 26] }), interactive: false, keyboard: false, zIndexOffset: -400 }));
    } else {
      const ghost = L.geoJSON(desk.outlines.get(m.of).feature.geometry, { style: STYLES.ghost, interactive: false, pane: "lines", coordsToLatLng: ([gx, gy]) => at([gx + dx, gy + dy]) });
      layer.addLayer(ghost);
    }
    written_along(desk, layer, [x, y, m.x, m.y], `${m.moved} m, would meet`, "gauge");
  }

  // The successor's place beside each place, with the letter of the first and a prime.
  function reserves(desk, layer) {
    for (const place of desk.data.places) {
      if (!place.reserve) continue;
      layer.addLayer(L.geoJSON(place.reserve, { style: STYLES.reserve, interactive: false, pane: "places" }));
      const letter = element("span", {});
      letter.textContent = place.name + "\u2032";
      desk.written.primes.push({ xy: place.reserveAt, letter, layer });
      layer.addLayer(L.marker(at(place.reserveAt), { icon: L.divIcon({ className: "prime", html: letter, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: 900 }));
    }
  }

  // The way on foot to a place, with its length on the longest leg that has room.
  function walk(desk, layer, place) {
    clear(desk, layer);
    if (!place || !place.walk) return;
    const legs = place.walk.slice(1).map((p, n) => [...place.walk[n], ...p]);
    legs.sort((one, other) => span(other) - span(one));
    layer.addLayer(L.polyline(place.walk.map(at), STYLES.walk));
    if (legs.length) written_along(desk, layer, legs[0], `${place.walkLength} m on foot`, "gauge", legs);
  }
  const span = ([x1, y1, x2, y2]) => Math.hypot(x2 - x1, y2 - y1);

  function wells(desk, layer, place) {
    clear(desk, layer);
    if (!place || !place.noWell) return;
    const shape = L.geoJSON(place.noWell, { style: STYLES.wells, interactive: false, pane: "zones" });
    layer.addLayer(shape);
    const bounds = shape.getBounds(), [x, y] = [bounds.getCenter().lng, bounds.getCenter().lat];
    const rim = [[x, bounds.getNorth()], [x, bounds.getSouth()], [bounds.getWest(), y], [bounds.getEast(), y]];
    const legs = rim.map(([px, py]) => [px - 1, py, px + 1, py]);
    written_along(desk, layer, legs[0], "no new well", "level", legs);
  }

  function clear(desk, layer) {
    layer.clearLayers();
    desk.written.layers = desk.written.layers.filter((mark) => mark.layer !== layer);
  }

  return { on, mend, reserves, walk, wells, clear };
})();

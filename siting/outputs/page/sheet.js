const siting = (function () {
  const { INK, element, drawn, at, metres, control } = furniture;
  const $ = (id) => document.getElementById(id);
  const WORDS = { meets: "meets", fails: "fails", "too close to call": "close", "not assessed": "blank" };
  const MARKS = { meets: "M", fails: "F", "too close to call": "?", "not assessed": "N" };
  const ORDER = ["fails", "too close to call", "not assessed", "meets"];

  const sheet = { mount };

  function mount(map, layers) {
    const data = JSON.parse($("sheet-data").textContent);
    for (const f of data.features) { f.label ??= f.name; f.status ??= "existing"; }
    const [west, south, east, north] = data.window;
    const rows = [...document.querySelectorAll("#rows tbody")].map((body) => [...body.rows].slice(1));
    const chosen = { group: L.layerGroup().addTo(map), what: null };
    const lines = L.layerGroup().addTo(map), fails = L.layerGroup(), wells = L.layerGroup();
    const labels = L.layerGroup().addTo(map), points = L.layerGroup().addTo(map), letters = L.layerGroup().addTo(map);
    const outlines = new Map();

    map.fitBounds([at([west, south]), at([east, north])], { animate: false });
    map.getContainer().setAttribute("aria-label", "Map; use the arrow keys to move and plus and minus to zoom");
    furniture.grid(map);
    furniture.furnish(map, () => map.fitBounds([at([west, south]), at([east, north])], { animate: false }), data.directions);

    // --- what stands -------------------------------------------------------------------------------------------

    layers.features.eachLayer((layer) => {
      const i = layer.feature.properties.i;
      outlines.set(i, layer);
      reachable(layer, spoken(data.features[i]), () => choose({ feature: i }));
    });
    data.features.forEach((f, i) => {
      for (const p of f.points || []) points.addLayer(point(f, i, p));
      if (f.radius) points.addLayer(L.circle(at(f.points ? f.points[0] : f.at), { radius: f.radius, color: data.symbols[f.symbol].colour, weight: 1, fill: false, interactive: false, pane: "features" }));
    });

    function spoken(f) {
      return f.label + ", " + f.kind;
    }

    function point(f, i, p) {
      const s = data.symbols[f.symbol];
      const shape = drawn("path", { d: s.path, fill: "#fff", stroke: s.colour, "stroke-width": 1.5 });
      if (f.status === "proposed") shape.setAttribute("stroke-dasharray", "3 2");
      const letter = drawn("text", { y: 3.6, "text-anchor": "middle", "font-size": 10, "font-weight": "bold", "font-family": "sans-serif", fill: s.colour });
      letter.textContent = s.letter;
      const icon = drawn("svg", { width: 44, height: 44, viewBox: "-22 -22 44 44", "aria-hidden": "true" }, shape, letter);
      if (f.status === "closed") icon.append(drawn("path", { d: "M-10 10L10 -10", stroke: s.colour, "stroke-width": 1.5 }));
      const marker = L.marker(at(p), { icon: L.divIcon({ className: "point", html: icon, iconSize: [44, 44] }), keyboard: true, alt: "" });
      reachable(marker, spoken(f), () => choose({ feature: i }));
      return marker;
    }

    // A layer that can be clicked can also be reached with Tab and chosen with Enter.
    function reachable(layer, name, act) {
      layer.on("click", (event) => { if (!trying.on) { L.DomEvent.stop(event); act(); } });
      const ready = () => {
        const node = layer.getElement && layer.getElement();
        if (!node || node.dataset.named) return;
        node.dataset.named = "yes";
        node.setAttribute("tabindex", "0");
        node.setAttribute("role", "button");
        node.setAttribute("aria-label", name);
        node.removeAttribute("title");
        node.addEventListener("keydown", (event) => {
          if (event.key === "Enter" || event.key === " ") { event.preventDefault(); event.stopPropagation(); act(); }
        });
      };
      layer.on("add", ready);
      ready();
    }

    // --- places proposed, and the best compromise ----------------------------------------------------------------

    layers.places.eachLayer((layer) => layer.on("click", (event) => { L.DomEvent.stop(event); choose({ place: layer.feature.properties.place }); }));
    data.places.forEach((place, n) => {
      place.leader = drawn("path", { stroke: INK, "stroke-width": 1.2 });
      const letter = drawn("text", { y: 5, "text-anchor": "middle", "font-size": 15, "font-weight": 700, "font-family": "Georgia, serif", fill: "#fff" });
      letter.textContent = place.name;
      const box = drawn("rect", { x: -11, y: -11, width: 22, height: 22, fill: INK });
      place.flag = drawn("g", {}, drawn("rect", { x: -22, y: -22, width: 44, height: 44, fill: "transparent" }), box, letter);
      const icon = drawn("svg", { width: 1, height: 1, "aria-hidden": "true" }, place.leader, place.flag);
      const marker = L.marker(at([place.x, place.y]), { icon: L.divIcon({ className: "letter", html: icon, iconSize: [0, 0] }), zIndexOffset: 1000 });
      reachable(marker, "place " + place.name, () => choose({ place: n }));
      place.marker = marker;
      letters.addLayer(marker);
    });

    // Letters of places that lie close together are fanned out, each with a line to its place.
    function fan_out(claim) {
      const ways = [[0, -22]];
      for (const reach of [34, 52, 72]) for (let turn = 0; turn < 12; turn++) ways.push([reach * Math.sin((turn * Math.PI) / 6), -reach * Math.cos((turn * Math.PI) / 6)]);
      for (const place of data.places) {
        const p = map.latLngToContainerPoint(at([place.x, place.y]));
        const [dx, dy] = ways.find(([x, y]) => claim([p.x + x - 13, p.y + y - 13, p.x + x + 13, p.y + y + 13])) || ways[0];
        place.flag.setAttribute("transform", `translate(${dx} ${dy})`);
        place.leader.setAttribute("d", `M0 0L${dx} ${dy}`);
      }
    }

    if (data.compromise) {
      const c = data.compromise, r = c.radius, style = { color: INK, weight: 2, fill: false, interactive: false, pane: "places" };
      L.circle(at([c.x, c.y]), { ...style, radius: r, dashArray: "4 4" }).addTo(map);
      const k = r * Math.SQRT1_2;
      for (const up of [1, -1]) L.polyline([at([c.x - k, c.y - up * k]), at([c.x + k, c.y + up * k])], style).addTo(map);
      const word = element("span", { style: "transform:translate(-50%,14px)" });
      word.textContent = "best compromise, not a place";
      L.marker(at([c.x, c.y]), { icon: L.divIcon({ className: "word", html: word, iconSize: [0, 0] }), interactive: false, keyboard: false }).addTo(map);
      const target = L.circle(at([c.x, c.y]), { radius: r, stroke: false, fillOpacity: 0, pane: "places" });
      reachable(target, "best compromise, not a place", () => choose({ group: "compromise" }));
      target.addTo(map);
    }

    // --- names where there is room ---------------------------------------------------------------------------------

    const FIRST = ["source", "pit", "latrine", "sewage", "burner", "surface", "stored"];
    const order = data.features
      .map((f, i) => ({ f, i }))
      .filter(({ f }) => f.symbol !== "boundary")
      .sort((a, b) => FIRST.includes(b.f.symbol) - FIRST.includes(a.f.symbol) || a.i - b.i);

    // Everything written on the map keeps clear of everything else; what matters most is placed first.
    const written = { gauges: [], fails: [] };
    function write_all() {
      const size = map.getSize(), taken = [];
      const free = (box) => !taken.some((t) => t[0] < box[2] && box[0] < t[2] && t[1] < box[3] && box[1] < t[3]);
      const claim = (box) => free(box) && taken.push(box) > 0;
      const pixel = (xy) => map.latLngToContainerPoint(at(xy));
      const north = document.querySelector(".north").offsetWidth + 20;
      taken.push([0, 0, 66, 150], [size.x - north, 0, size.x, 85], [0, size.y - 50, 200, size.y], [size.x - 130, size.y - 64, size.x, size.y]);
      for (const place of data.places) { const p = pixel([place.x, place.y]); taken.push([p.x - 5, p.y - 5, p.x + 5, p.y + 5]); }
      for (const { f } of order) for (const q of f.points || []) { const p = pixel(q); taken.push([p.x - 9, p.y - 9, p.x + 9, p.y + 9]); }
      if (trying.on) { const p = pixel([trying.place.x, trying.place.y]); taken.push([p.x - 20, p.y - 20, p.x + 20, p.y + 20]); }
      if (map.hasLayer(letters)) fan_out(claim);
      for (const mark of [...written.gauges, ...(map.hasLayer(fails) ? written.fails : [])]) {
        const ends = mark.ends, w = 7 * mark.text.length + 10;
        for (const share of [0.5, 0.62, 0.38, 0.74, 0.26]) {
          const xy = [ends[0] + share * (ends[2] - ends[0]), ends[1] + share * (ends[3] - ends[1])], p = pixel(xy);
          const seen = claim([p.x - w / 2, p.y - 10, p.x + w / 2, p.y + 10]);
          mark.marker.setOpacity(seen ? 1 : 0);
          mark.marker.setLatLng(at(xy));
          if (seen) break;
        }
      }
      labels.clearLayers();
      if (!map.hasLayer(labels)) return;
      for (const { f, i } of order) {
        const p = pixel(f.at);
        if (p.x < -50 || p.y < -20 || p.x > size.x + 50 || p.y > size.y + 20) continue;
        const w = 6.6 * f.label.length + 4, h = 15;
        const spot = spots(f, i, p, w, h).find(([dx, dy]) => claim([p.x + dx, p.y + dy, p.x + dx + w, p.y + dy + h]));
        if (!spot) continue;
        const side = spot[2] || "center";
        const text = element("span", { style: `left:${spot[0]}px;top:${spot[1]}px;width:${w}px;text-align:${side}` });
        text.textContent = f.label;
        labels.addLayer(L.marker(at(f.at), { icon: L.divIcon({ className: "word", html: text, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: -500 }));
      }
    }

    // Where the name of a feature may go, as offsets from its middle: in it when it is large, else beside it.
    function spots(f, i, p, w, h) {
      if (f.points) return [[11, -h / 2, "left"], [-11 - w, -h / 2, "right"], [-w / 2, -11 - h], [-w / 2, 11]];
      const bounds = outlines.get(i).getBounds();
      const nw = map.latLngToContainerPoint(bounds.getNorthWest()), se = map.latLngToContainerPoint(bounds.getSouthEast());
      const areal = outlines.get(i).feature.geometry.type.endsWith("Polygon");
      if (!areal) return [[-w / 2, -h - 3], [-w / 2, 3], [-w / 2, -h / 2]];
      const [left, top, right, bottom] = [nw.x - p.x, nw.y - p.y, se.x - p.x, se.y - p.y];
      const outside = [[-w / 2, top - h - 2], [-w / 2, bottom + 2], [right + 4, -h / 2, "left"], [left - 4 - w, -h / 2, "right"]];
      return right - left > w + 8 && bottom - top > h + 6 ? [[-w / 2, -h / 2], ...outside] : outside;
    }
    map.on("zoomend moveend resize", write_all);

    // --- distances drawn ---------------------------------------------------------------------------------------------

    function gauge(group, ends, text, heavy) {
      const [x1, y1, x2, y2] = ends;
      group.addLayer(L.polyline([at([x1, y1]), at([x2, y2])], { color: INK, weight: heavy ? 2.6 : 1.2, dashArray: heavy ? null : "5 4", interactive: false, pane: "lines" }));
      if (!text) return;
      const span = element("span", {});
      span.textContent = text;
      const marker = L.marker(at([(x1 + x2) / 2, (y1 + y2) / 2]), { icon: L.divIcon({ className: "gauge", html: span, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: heavy ? 800 : 600 });
      group.addLayer(marker);
      (group === fails ? written.fails : written.gauges).push({ ends, text, marker });
    }

    function clear_lines() {
      lines.clearLayers();
      written.gauges = [];
    }

    // The line to each receptor once, with the least of its margins; the tightest is drawn heavy and labelled.
    function draw_lines(picked) {
      clear_lines();
      const by_line = new Map();
      for (const p of picked) {
        if (p.ends.length !== 4) continue;
        const key = p.pair || p.ends.join();
        if (!by_line.has(key) || p.rank < by_line.get(key).rank) by_line.set(key, p);
      }
      const sorted = [...by_line.values()].sort((a, b) => a.rank - b.rank || length(a.ends) - length(b.ends));
      const nearest = sorted.reduce((best, p) => (!best || length(p.ends) < length(best.ends) ? p : best), null);
      sorted.slice(0, 12).forEach((p, n) => gauge(lines, p.ends, n < 4 || p === nearest ? plane.floored(length(p.ends)) + " m" : "", n === 0));
      if (nearest && sorted.indexOf(nearest) >= 12) gauge(lines, nearest.ends, plane.floored(length(nearest.ends)) + " m", false);
      write_all();
    }
    const length = ([a, b, c, d]) => Math.hypot(c - a, d - b);

    for (const group of data.groups) {
      if (group.key !== "standing") continue;
      const seen = new Set();
      for (const row of group.rows) {
        const pair = `${row[1]}/${row[2]}`;
        if (row[0] !== "fails" || !row[3].length || seen.has(pair)) continue;
        seen.add(pair);
        gauge(fails, row[3], plane.floored(length(row[3])) + " m, fails", true);
      }
    }

    for (const m of data.mendings) mend(fails, m);
    function mend(group, m) {
      const from = data.features[m.of].at;
      group.addLayer(L.polyline([at(from), at([m.x, m.y])], { color: INK, weight: 1.4, dashArray: "1 5", interactive: false, pane: "lines" }));
      group.addLayer(L.circleMarker(at([m.x, m.y]), { radius: 6, color: INK, weight: 1.6, fill: false, interactive: false, pane: "lines" }));
    }

    // --- choosing -------------------------------------------------------------------------------------------------------

    // Everything the table says of a feature or of a place: [group, row] pairs.
    function picked_for(what) {
      const found = [];
      data.groups.forEach((group, g) => group.rows.forEach((row, n) => {
        const mine = what.feature !== undefined
          ? row[1] === what.feature || row[2] === what.feature
          : group.key === what.group;
        if (mine) found.push({ g, n, group, row, ends: row[3], pair: `${row[1]}/${row[2]}/${group.key}`, rank: row[4] === null ? Infinity : row[4], verdict: row[0] });
      }));
      const grave = ["fails", "close", "blank", "meets"];
      return found.sort((a, b) => grave.indexOf(a.verdict) - grave.indexOf(b.verdict) || b.row[5] - a.row[5] || a.rank - b.rank);
    }

    function choose(what, options) {
      const { quiet } = options || {};
      stop_trying();
      if (what.place !== undefined) what.group = "place-" + data.places[what.place].name;
      const picked = picked_for(what);
      chosen.what = what;
      const head = what.group === "compromise" ? "Best compromise, not a place" : what.place !== undefined ? "Place " + data.places[what.place].name : data.features[what.feature].label;
      $("panel-head").textContent = head;
      const count = (css) => picked.filter((p) => p.verdict === css && p.row[5]).length;
      const advice = picked.filter((p) => p.verdict === "fails" && !p.row[5]).length;
      const parts = [["fails", "fail"], ["close", "too close to call"], ["blank", "not assessed"], ["meets", "meet"]].map(([css, word]) => count(css) && count(css) + " " + word).filter(Boolean);
      if (advice) parts.push(advice + " advised and not kept");
      const f = what.feature === undefined ? null : data.features[what.feature];
      const about = f ? `${f.kind}${f.status === "existing" ? "" : ", " + f.status}, position ± ${f.sigma.toFixed(2)} m${f.origin ? ", from " + f.origin : ""}. ` : "";
      const mended = data.mendings.filter((m) => m.of === what.feature).map((m) => " " + m.text + ".").join("");
      $("panel-said").textContent = about + (picked.length ? `Separations: ${parts.join(", ")}.` : "No rule in force measures to it or from it.") + mended;
      $("panel-tool").replaceChildren();
      fill_panel(picked.map((p) => [rows[p.g][p.n], p]));
      draw_lines(picked);
      highlight(what);
      if (!quiet) show_panel();
    }

    function show_panel() {
      $("panel").scrollIntoView({ block: "nearest" });
    }

    // Rows are copied from the table as they stand, with the citation of each below it.
    function fill_panel(pairs) {
      const table = element("table", { class: "rows cards" });
      for (const [source, p] of pairs) {
        const copy = source.cloneNode(true);
        copy.hidden = false;
        if (p.group.key !== "standing" && chosen.what && chosen.what.feature !== undefined) copy.cells[1].firstChild.prepend(p.group.title + " ");
        table.append(copy, cited(copy));
      }
      $("panel-rows").replaceChildren(table);
    }

    function cited(row) {
      const link = row.querySelector(".rule a");
      const made = element("tr", { class: "cite" }), cell = element("td", { colspan: 5 });
      const entry = link && $(link.getAttribute("href").slice(1));
      cell.textContent = entry ? entry.querySelector("cite").textContent : "";
      made.append(cell);
      return made;
    }

    function highlight(what) {
      chosen.group.clearLayers();
      document.querySelectorAll(".places > li").forEach((item) => {
        const mine = Number(item.dataset.place) === what.place;
        item.classList.toggle("chosen", mine);
        item.querySelector(".pick").setAttribute("aria-pressed", String(mine));
      });
      data.places.forEach((place, n) => {
        const node = place.marker.getElement();
        if (node) node.classList.toggle("chosen", n === what.place);
      });
      wells.clearLayers();
      if (what.place !== undefined) {
        const { reserve, noWell } = data.places[what.place];
        const thin = { color: INK, weight: 1.2, dashArray: "2 3", fill: false };
        if (reserve) chosen.group.addLayer(L.geoJSON(reserve, { style: thin, interactive: false, pane: "places" }));
        if (noWell) wells.addLayer(L.geoJSON(noWell, { style: { color: "#1b4f72", weight: 1.8, dashArray: "10 5", fill: false }, interactive: false, pane: "zones" }));
      }
      if (what.feature === undefined) return;
      for (const m of data.mendings) if (m.of === what.feature) mend(chosen.group, m);
      const f = data.features[what.feature], layer = outlines.get(what.feature);
      const style = { color: INK, weight: 5, opacity: 0.55, fill: false, interactive: false, pane: "lines" };
      if (layer) chosen.group.addLayer(L.geoJSON(layer.feature.geometry, { style, interactive: false, pane: "lines" }));
      for (const p of f.points || []) chosen.group.addLayer(L.circleMarker(at(p), { ...style, radius: 15, weight: 3 }));
    }

    // --- trying a place ---------------------------------------------------------------------------------------------------

    const trying = { on: false, marker: null, shapes: L.layerGroup(), place: null };

    function features_taken_apart() {
      if (data.features[0] && data.features[0].parts) return;
      data.features.forEach((f, i) => {
        const geometry = f.points ? { type: "MultiPoint", coordinates: f.points } : outlines.get(i).feature.geometry;
        f.parts = plane.taken_apart(geometry);
      });
      data.trial.requirements = data.trial.requirements.map((r) => ({ ...data.trial.shared[r.of], ...r }));
      data.trial.parts = data.trial.geometries.map(plane.taken_apart);
    }

    function start_trying() {
      if (trying.on) return;
      features_taken_apart();
      const centre = metres(map.getCenter());
      trying.on = true;
      trying.place = { x: centre[0], y: centre[1], degrees: data.trial.turns ? Math.round(data.trial.orientation) : data.trial.orientation };
      const icon = drawn("svg", { width: 44, height: 44, viewBox: "-22 -22 44 44", "aria-hidden": "true" },
        drawn("circle", { r: 19, fill: "#fff", "fill-opacity": 0.55, stroke: INK, "stroke-width": 1.5 }),
        drawn("path", { d: "M-19 0H-5M5 0H19M0 -19V-5M0 5V19", stroke: INK, "stroke-width": 2 }));
      trying.marker = L.marker(map.getCenter(), { draggable: true, autoPan: true, keyboard: true, zIndexOffset: 2000, icon: L.divIcon({ className: "cross", html: icon, iconSize: [44, 44] }) });
      trying.shapes.addTo(map);
      trying.marker.addTo(map);
      const node = trying.marker.getElement();
      node.setAttribute("aria-label", "place being tried; arrow keys move it half a metre, with Shift a tenth");
      node.addEventListener("keydown", (event) => {
        const step = event.shiftKey ? 0.1 : 0.5;
        const move = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
        if (!move) return;
        event.preventDefault();
        event.stopPropagation();
        try_at(trying.place.x + move[0], trying.place.y + move[1]);
      });
      trying.marker.on("drag", () => try_at(...metres(trying.marker.getLatLng())));
      chosen.group.clearLayers();
      chosen.what = null;
      tool();
      try_at(centre[0], centre[1]);
      $("try").setAttribute("aria-pressed", "true");
      $("try").textContent = "stop trying";
      show_panel();
    }

    function stop_trying() {
      if (!trying.on) return;
      trying.on = false;
      trying.marker.remove();
      trying.shapes.remove();
      clear_lines();
      $("try").setAttribute("aria-pressed", "false");
      $("try").textContent = "try a place";
      $("panel-tool").replaceChildren();
      $("panel-rows").replaceChildren();
      $("panel-head").textContent = "Choose something on the map";
      $("panel-said").textContent = "";
    }

    function tool() {
      const bar_ = element("div", { class: "tool" });
      if (data.trial.turns) {
        const turn = element("input", { type: "number", min: 0, max: 360, step: 1, value: trying.place.degrees, id: "turn" });
        turn.addEventListener("input", () => { if (turn.value !== "") { trying.place.degrees = Number(turn.value); try_at(trying.place.x, trying.place.y); } });
        const name = element("label", { for: "turn" });
        name.textContent = "long side, degrees from north";
        bar_.append(name, turn);
      }
      const where = element("code", { id: "tried-at" });
      const copy = element("button", { type: "button", id: "tried-copy" });
      copy.textContent = "copy";
      copy.addEventListener("click", () => copied(where.textContent, copy));
      bar_.append(where, copy);
      $("panel-tool").replaceChildren(bar_);
    }

    function try_at(x, y) {
      trying.place.x = x;
      trying.place.y = y;
      trying.marker.setLatLng(at([x, y]));
      trying.shapes.clearLayers();
      for (const name of ["enclosure", "pit"]) {
        const outline = data.trial.outlines[name], shape = plane.outline_at(outline, x, y, trying.place.degrees);
        const style = { color: INK, weight: 1.6, dashArray: name === "pit" ? null : "6 3", fill: name === "pit", fillColor: INK, fillOpacity: 0.6, interactive: false, pane: "places" };
        trying.shapes.addLayer(shape.points.length ? L.circle(at([x, y]), { ...style, radius: outline.radius }) : L.polygon(shape.areas[0][0].map(at), style));
      }
      const judged = plane.judge(data.trial, data.features, trying.place, data.confidence);
      judged.sort((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict) || (b.r.strength === "must") - (a.r.strength === "must") || a.margin - b.margin);
      const table = element("table", { class: "rows cards", id: "tried" });
      for (const row of judged) table.append(...tried_row(row));
      $("panel-rows").replaceChildren(table);
      $("panel-head").textContent = "Place being tried";
      const must = judged.filter((row) => row.r.strength === "must");
      const worst = ORDER.find((v) => must.some((row) => row.verdict === v)) || "meets";
      const tight = must.filter((row) => row.r.unit === "m").reduce((best, row) => (!best || row.margin < best.margin ? row : best), null);
      $("panel-said").textContent = "Of what could be assessed: " + worst + (tight ? `; smallest margin ${plane.signed(tight.margin)} m (${tight.r.id}${tight.feature >= 0 ? ", " + data.features[tight.feature].name : ""})` : "") + ".";
      const world = data.world && plane.to_world(data.world, x, y);
      $("tried-at").textContent = world ? `${world.lat.toFixed(7)}, ${world.lon.toFixed(7)}` : `x ${x.toFixed(2)} m, y ${y.toFixed(2)} m`;
      draw_lines(judged.filter((row) => row.line).map((row) => ({ ends: row.line.flat(), pair: String(row.feature), rank: row.r.strength === "must" ? row.margin : row.margin + 1e6 })));
    }

    function tried_row(row) {
      const css = WORDS[row.verdict], r = row.r, tr = element("tr", { class: css + (r.strength === "must" ? "" : " advice") });
      tr.dataset.rule = r.id;
      tr.dataset.margin = String(row.margin);
      const chip = element("span", { class: "chip " + css }), mark = element("b", { "aria-hidden": "true" });
      mark.textContent = MARKS[row.verdict];
      chip.append(mark, " " + row.verdict);
      const what = element("td", {}), to = element("b", {}), rule = element("div", { class: "rule" }), link = element("a", { href: "#R" + r.rule });
      to.textContent = "\u2192 " + (row.feature >= 0 ? data.features[row.feature].name : r.measure);
      link.textContent = "R" + r.rule;
      rule.append(link, " " + r.id + ", " + r.strength);
      what.append(to, rule);
      if (row.because) what.append(element("div", {}, row.because));
      if (r.elsewhere) what.append(element("div", { class: "do" }, `only the program reckons this one; by the plan the place lies ${row.inside ? "on" : "off"} ground that it forbids`));
      const attribute = r.measure === "attribute";
      let value = "";
      if (attribute) value = row.margin >= 0 ? "kept" : "not kept";
      else if (row.value !== null) value = (plane.is_minimum(r) ? plane.floored(row.value) : plane.ceiled(row.value)) + " " + r.unit;
      const limit = r.written ? r.written : `${r.relation.replace("_", " ")} ${Number(r.required.toFixed(3))} ${r.unit}`;
      const cells = [value, limit];
      const margin = element("td", {});
      if (!attribute && row.margin !== null) {
        const bold = element("b", {}), spread = element("div", { class: "rule" });
        bold.textContent = `${plane.signed(row.margin)} ${r.unit}`;
        spread.textContent = `\u00b1 ${row.sigma.toFixed(2)} ${r.unit}, p ${plane.probability_text(row.met)}`;
        margin.append(bold, spread);
      }
      tr.append(element("td", {}, chip), what, ...cells.map((text) => element("td", {}, text)), margin);
      return [tr, cited(tr)];
    }

    // --- the controls of the page ---------------------------------------------------------------------------------------

    const shown = {
      features: [layers.features, points], labels: [labels], ground: [layers.ground], places: [layers.places, letters], lines: [lines], fails: [fails], wells: [wells],
    };
    document.querySelectorAll("[data-layer]").forEach((box) => box.addEventListener("change", () => {
      for (const layer of shown[box.dataset.layer] || []) box.checked ? map.addLayer(layer) : map.removeLayer(layer);
      write_all();
    }));
    const zones = [];
    layers.zones.eachLayer((layer) => { zones[layer.feature.properties.zone] = layer; });
    document.querySelectorAll("[data-zone]").forEach((box) => box.addEventListener("change", () => {
      const layer = zones[Number(box.dataset.zone)];
      if (!box.checked) { map.removeLayer(layer); return; }
      map.addLayer(layer);
      layer.bindTooltip(element("span", {}, box.parentElement.textContent.trim()), { sticky: true });
    }));
    document.querySelectorAll(".pick").forEach((button) => button.addEventListener("click", () => {
      const n = Number(button.dataset.place), place = data.places[n];
      map.panTo(at([place.x, place.y]), { animate: false });
      choose({ place: n }, { quiet: true });
    }));
    document.querySelectorAll(".copy").forEach((button) => button.addEventListener("click", () => copied(button.dataset.copy, button)));

    function copied(text, button) {
      const done = () => { const old = button.textContent; button.textContent = "copied"; setTimeout(() => { button.textContent = old === "copied" ? "copy" : old; }, 1500); };
      const by_hand = () => {
        const box = element("textarea", { class: "offstage" });
        box.value = text;
        document.body.append(box);
        box.select();
        document.execCommand("copy");
        box.remove();
        done();
      };
      if (navigator.clipboard) navigator.clipboard.writeText(text).then(done, by_hand);
      else by_hand();
    }

    const filter = { verdict: "", of: "" };
    function filter_rows() {
      let any = false;
      data.groups.forEach((group, g) => {
        const here = !filter.of || filter.of === group.key;
        let count = 0;
        rows[g].forEach((row, n) => {
          row.hidden = !here || (filter.verdict !== "" && group.rows[n][0] !== filter.verdict);
          count += !row.hidden;
        });
        rows[g][0].parentElement.rows[0].hidden = count === 0;
        any = any || count > 0;
      });
      $("none-shown").hidden = any;
    }
    document.querySelectorAll("[data-filter]").forEach((button) => button.addEventListener("click", () => {
      filter.verdict = button.dataset.filter;
      document.querySelectorAll("[data-filter]").forEach((b) => b.setAttribute("aria-pressed", String(b === button)));
      filter_rows();
    }));
    $("of").addEventListener("change", (event) => { filter.of = event.target.value; filter_rows(); });

    // A row of the table shows its line on the map.
    data.groups.forEach((group, g) => group.rows.forEach((row, n) => {
      if (row[3].length !== 4) return;
      const tr = rows[g][n];
      tr.classList.add("linked");
      tr.addEventListener("click", (event) => {
        if (event.target.closest("a")) return;
        stop_trying();
        const [x1, y1, x2, y2] = row[3];
        clear_lines();
        gauge(lines, row[3], plane.floored(length(row[3])) + " m", true);
        write_all();
        if (!map.getBounds().contains(at([x1, y1])) || !map.getBounds().contains(at([x2, y2]))) map.panTo(at([(x1 + x2) / 2, (y1 + y2) / 2]), { animate: false });
      });
    }));

    const tabs = [...document.querySelectorAll(".tabs button")];
    const open_shelf = (wanted) => tabs.forEach((tab) => {
      tab.setAttribute("aria-expanded", String(tab === wanted));
      $(tab.getAttribute("aria-controls")).hidden = tab !== wanted;
    });
    tabs.forEach((tab) => tab.addEventListener("click", () => open_shelf(tab.getAttribute("aria-expanded") === "true" ? null : tab)));
    if (matchMedia("(max-width: 900px)").matches) open_shelf(null);
    map.on("click", (event) => { if (trying.on) try_at(...metres(event.latlng)); });
    if (data.trial) {
      const button = element("button", { type: "button", id: "try", class: "wide", "aria-pressed": "false" });
      button.textContent = "try a place";
      button.addEventListener("click", () => (trying.on ? stop_trying() : start_trying()));
      control(map, "bottomright", "zoomer", button);
    }
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
    write_all();
    if (data.places.length) choose({ place: 0 }, { quiet: true });
    else if (data.compromise) choose({ group: "compromise" }, { quiet: true });
    document.documentElement.classList.add("mounted");
    // For tests and for whoever looks into the page.
    return Object.assign(sheet, { map, data, choose, try_at, start_trying, trying });
  }

  return sheet;
})();

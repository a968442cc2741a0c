const siting = (function () {
  const INK = "#22282b", SVG = "http://www.w3.org/2000/svg";
  const $ = (id) => document.getElementById(id);
  const WORDS = { meets: "meets", fails: "fails", "too close to call": "close", "not assessed": "blank" };
  const MARKS = { meets: "M", fails: "F", "too close to call": "?", "not assessed": "N" };
  const ORDER = ["fails", "too close to call", "not assessed", "meets"];

  function element(name, attributes, ...children) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) made.setAttribute(key, value);
    made.append(...children);
    return made;
  }

  function drawn(name, attributes, ...children) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...children);
    return made;
  }

  const at = ([x, y]) => L.latLng(y, x);
  const metres = (latlng) => [latlng.lng, latlng.lat];

  function mount(map, layers) {
    const data = JSON.parse($("sheet-data").textContent);
    for (const f of data.features) { f.label ??= f.name; f.status ??= "existing"; }
    const [west, south, east, north] = data.window;
    const rows = [...document.querySelectorAll("#rows tbody")].map((body) => [...body.rows].slice(1));
    const chosen = { group: L.layerGroup().addTo(map), what: null };
    const lines = L.layerGroup().addTo(map), fails = L.layerGroup();
    const labels = L.layerGroup().addTo(map), points = L.layerGroup().addTo(map), letters = L.layerGroup().addTo(map);
    const outlines = new Map();

    map.fitBounds([at([west, south]), at([east, north])], { animate: false });
    map.getContainer().setAttribute("aria-label", "Map; use the arrow keys to move and plus and minus to zoom");
    grid(map);
    furniture(map, () => map.fitBounds([at([west, south]), at([east, north])], { animate: false }));

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
      const span = element("span", {});
      span.textContent = place.name;
      const marker = L.marker(at([place.x, place.y]), { icon: L.divIcon({ className: "letter", html: span, iconSize: [0, 0] }), zIndexOffset: 1000 });
      reachable(marker, "place " + place.name, () => choose({ place: n }));
      place.marker = marker;
      letters.addLayer(marker);
    });
    if (data.compromise) {
      const c = data.compromise, r = c.radius, style = { color: INK, weight: 2, fill: false, interactive: false, pane: "places" };
      L.circle(at([c.x, c.y]), { ...style, radius: r, dashArray: "4 4" }).addTo(map);
      const k = r * Math.SQRT1_2;
      for (const up of [1, -1]) L.polyline([at([c.x - k, c.y - up * k]), at([c.x + k, c.y + up * k])], style).addTo(map);
      const word = element("span", { style: "transform:translate(-50%,14px)" });
      word.textContent = "best compromise, not a place";
      L.marker(at([c.x, c.y]), { icon: L.divIcon({ className: "word", html: word, iconSize: [0, 0] }), interactive: false, keyboard: false }).addTo(map);
    }

    // --- names where there is room ---------------------------------------------------------------------------------

    const FIRST = ["source", "pit", "latrine", "sewage", "burner", "surface", "stored"];
    const order = data.features
      .map((f, i) => ({ f, i }))
      .filter(({ f }) => f.symbol !== "boundary")
      .sort((a, b) => FIRST.includes(b.f.symbol) - FIRST.includes(a.f.symbol) || a.i - b.i);

    function name_all() {
      labels.clearLayers();
      if (!map.hasLayer(labels)) return;
      const size = map.getSize(), taken = [];
      const claim = (box) => {
        if (taken.some((t) => t[0] < box[2] && box[0] < t[2] && t[1] < box[3] && box[1] < t[3])) return false;
        taken.push(box);
        return true;
      };
      for (const place of data.places) {
        const p = map.latLngToContainerPoint(at([place.x, place.y]));
        claim([p.x - 14, p.y - 34, p.x + 14, p.y + 8]);
      }
      for (const { f } of order) for (const q of f.points || []) {
        const p = map.latLngToContainerPoint(at(q));
        taken.push([p.x - 8, p.y - 8, p.x + 8, p.y + 8]);
      }
      for (const { f } of order) {
        const p = map.latLngToContainerPoint(at(f.at));
        if (p.x < -50 || p.y < -20 || p.x > size.x + 50 || p.y > size.y + 20) continue;
        const w = 7 * f.label.length, h = 15, gap = f.points ? 11 : 0;
        const spots = gap ? [[gap, -h / 2], [-gap - w, -h / 2], [-w / 2, -gap - h], [-w / 2, gap]] : [[-w / 2, -h / 2], [-w / 2, -h * 1.5], [-w / 2, h / 2]];
        const spot = spots.find(([dx, dy]) => claim([p.x + dx, p.y + dy, p.x + dx + w, p.y + dy + h]));
        if (!spot) continue;
        const text = element("span", { style: `left:${spot[0]}px;top:${spot[1]}px;width:${w}px;text-align:${gap ? (spot[0] > 0 ? "left" : spot[0] === -w / 2 ? "center" : "right") : "center"}` });
        text.textContent = f.label;
        labels.addLayer(L.marker(at(f.at), { icon: L.divIcon({ className: "word", html: text, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: -500 }));
      }
    }
    map.on("zoomend moveend resize", name_all);

    // --- distances drawn ---------------------------------------------------------------------------------------------

    function gauge(group, ends, text, heavy) {
      const [x1, y1, x2, y2] = ends;
      group.addLayer(L.polyline([at([x1, y1]), at([x2, y2])], { color: INK, weight: heavy ? 2.6 : 1.2, dashArray: heavy ? null : "5 4", interactive: false, pane: "lines" }));
      if (!text) return;
      const span = element("span", {});
      span.textContent = text;
      group.addLayer(L.marker(at([(x1 + x2) / 2, (y1 + y2) / 2]), { icon: L.divIcon({ className: "gauge", html: span, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: heavy ? 800 : 600 }));
    }

    // The line to each receptor once, with the least of its margins; the tightest is drawn heavy and labelled.
    function draw_lines(picked) {
      lines.clearLayers();
      const by_line = new Map();
      for (const p of picked) {
        if (p.ends.length !== 4) continue;
        const key = p.ends.join();
        if (!by_line.has(key) || p.rank < by_line.get(key).rank) by_line.set(key, p);
      }
      const sorted = [...by_line.values()].sort((a, b) => a.rank - b.rank || length(a.ends) - length(b.ends));
      const nearest = sorted.reduce((best, p) => (!best || length(p.ends) < length(best.ends) ? p : best), null);
      sorted.slice(0, 12).forEach((p, n) => gauge(lines, p.ends, n < 4 || p === nearest ? plane.floored(length(p.ends)) + " m" : "", n === 0));
      if (nearest && sorted.indexOf(nearest) >= 12) gauge(lines, nearest.ends, plane.floored(length(nearest.ends)) + " m", false);
    }
    const length = ([a, b, c, d]) => Math.hypot(c - a, d - b);

    for (const group of data.groups) {
      if (group.key !== "standing") continue;
      for (const row of group.rows) if (row[0] === "fails" && row[3].length) gauge(fails, row[3], plane.floored(length(row[3])) + " m, fails", true);
    }

    // --- choosing -------------------------------------------------------------------------------------------------------

    // Everything the table says of a feature or of a place: [group, row] pairs.
    function picked_for(what) {
      const found = [];
      data.groups.forEach((group, g) => group.rows.forEach((row, n) => {
        const mine = what.feature !== undefined
          ? row[1] === what.feature || row[2] === what.feature
          : group.key === what.group;
        if (mine) found.push({ g, n, group, row, ends: row[3], rank: row[4] === null ? Infinity : row[4], verdict: row[0] });
      }));
      const grave = ["fails", "close", "blank", "meets"];
      return found.sort((a, b) => grave.indexOf(a.verdict) - grave.indexOf(b.verdict) || a.rank - b.rank);
    }

    function choose(what, options) {
      const { quiet } = options || {};
      stop_trying();
      if (what.place !== undefined) what.group = "place-" + data.places[what.place].name;
      const picked = picked_for(what);
      chosen.what = what;
      const head = what.place !== undefined ? "Place " + data.places[what.place].name : data.features[what.feature].label;
      $("panel-head").textContent = head;
      const count = (css) => picked.filter((p) => p.verdict === css).length;
      const parts = [["fails", "fail"], ["close", "too close to call"], ["blank", "not assessed"], ["meets", "meet"]].map(([css, word]) => count(css) && count(css) + " " + word).filter(Boolean);
      const f = what.feature === undefined ? null : data.features[what.feature];
      const about = f ? `${f.kind}${f.status === "existing" ? "" : ", " + f.status}, position ± ${f.sigma.toFixed(2)} m${f.origin ? ", from " + f.origin : ""}. ` : "";
      $("panel-said").textContent = about + (picked.length ? `Separations: ${parts.join(", ")}.` : "No rule in force measures to it or from it.");
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
      const table = element("table", { class: "rows" });
      for (const [source, p] of pairs) {
        const copy = source.cloneNode(true);
        copy.hidden = false;
        if (p.group.key !== "standing" && chosen.what && chosen.what.place === undefined) copy.cells[1].firstChild.prepend(p.group.title + " ");
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
      if (what.feature === undefined) return;
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
      trying.place = { x: centre[0], y: centre[1], degrees: data.trial.orientation };
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
      lines.clearLayers();
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
        const turn = element("input", { type: "number", min: 0, max: 360, step: 5, value: data.trial.orientation, id: "turn" });
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
      judged.sort((a, b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict) || a.margin - b.margin);
      const table = element("table", { class: "rows", id: "tried" });
      for (const row of judged) table.append(...tried_row(row));
      $("panel-rows").replaceChildren(table);
      $("panel-head").textContent = "Place being tried";
      const must = judged.filter((row) => row.r.strength === "must");
      const worst = ORDER.find((v) => must.some((row) => row.verdict === v)) || "meets";
      const tight = must.filter((row) => row.r.unit === "m").reduce((best, row) => (!best || row.margin < best.margin ? row : best), null);
      $("panel-said").textContent = "Of what could be assessed: " + worst + (tight ? `; smallest margin ${plane.signed(tight.margin)} m (${tight.r.id}${tight.feature >= 0 ? ", " + data.features[tight.feature].name : ""})` : "") + ".";
      const world = data.world && plane.to_world(data.world, x, y);
      $("tried-at").textContent = world ? `${world.lat.toFixed(7)}, ${world.lon.toFixed(7)}` : `x ${x.toFixed(2)} m, y ${y.toFixed(2)} m`;
      draw_lines(judged.filter((row) => row.line).map((row) => ({ ends: row.line.flat(), rank: row.r.strength === "must" ? row.margin : row.margin + 1e6 })));
    }

    function tried_row(row) {
      const css = WORDS[row.verdict], r = row.r, tr = element("tr", { class: css });
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
      if (r.because) what.append(line_of(r.because));
      if (row.failing > 1) what.append(line_of(row.failing + " features fail this rule; the worst is shown"));
      const attribute = Boolean(r.written);
      const minimum = plane.is_minimum(r);
      const value = attribute ? (row.margin >= 0 ? "kept" : "not kept") : (minimum ? plane.floored(row.value) : (-Number(plane.floored(-row.value)) + 0).toFixed(2)) + " " + r.unit;
      const cells = [value, attribute ? r.written : `${r.relation.replace("_", " ")} ${Number(r.required.toPrecision(4))} ${r.unit}`];
      const margin = element("td", {});
      if (!attribute) {
        const bold = element("b", {}), spread = element("div", { class: "rule" });
        bold.textContent = `${plane.signed(row.margin)} ${r.unit}`;
        spread.textContent = `\u00b1 ${row.sigma.toFixed(2)} ${r.unit}, p ${plane.probability_text(row.met)}`;
        margin.append(bold, spread);
      }
      tr.append(element("td", {}, chip), what, ...cells.map((text) => element("td", {}, text)), margin);
      return [tr, cited(tr)];
    }

    function line_of(text) {
      return element("div", {}, text);
    }

    // --- the controls of the page ---------------------------------------------------------------------------------------

    const shown = {
      features: [layers.features, points], labels: [labels], ground: [layers.ground], places: [layers.places, letters], lines: [lines], fails: [fails],
    };
    document.querySelectorAll("[data-layer]").forEach((box) => box.addEventListener("change", () => {
      for (const layer of shown[box.dataset.layer]) box.checked ? map.addLayer(layer) : map.removeLayer(layer);
      name_all();
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
        lines.clearLayers();
        gauge(lines, row[3], plane.floored(length(row[3])) + " m", true);
        if (!map.getBounds().contains(at([x1, y1])) || !map.getBounds().contains(at([x2, y2]))) map.panTo(at([(x1 + x2) / 2, (y1 + y2) / 2]), { animate: false });
      });
    }));

    // Paper shows every row and opens nothing else.
    if (matchMedia("(max-width: 900px)").matches) $("key").open = false;
    map.on("click", (event) => { if (trying.on) try_at(...metres(event.latlng)); });
    if (data.trial) {
      const button = element("button", { type: "button", id: "try", class: "wide", "aria-pressed": "false" });
      button.textContent = "try a place";
      button.addEventListener("click", () => (trying.on ? stop_trying() : start_trying()));
      control(map, "topleft", "zoomer", button);
    }
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
    name_all();
    if (data.places.length) choose({ place: 0 }, { quiet: true });
    document.documentElement.classList.add("mounted");
    return { map, data, choose, try_at, start_trying };
  }

  // --- furniture of the map ---------------------------------------------------------------------------------------------

  function control(map, position, css, ...children) {
    const made = new (L.Control.extend({
      onAdd() {
        const box = element("div", { class: css });
        box.append(...children);
        L.DomEvent.disableClickPropagation(box);
        L.DomEvent.disableScrollPropagation(box);
        return box;
      },
    }))({ position });
    made.addTo(map);
    return made;
  }

  function furniture(map, home) {
    const button = (text, name, act) => {
      const made = element("button", { type: "button", "aria-label": name });
      made.textContent = text;
      made.addEventListener("click", act);
      return made;
    };
    control(map, "topleft", "zoomer", button("+", "zoom in", () => map.zoomIn(1)), button("\u2212", "zoom out", () => map.zoomOut(1)), button("\u2302", "show everything", home));
    control(map, "topright", "north", drawn("svg", { width: 44, height: 62, viewBox: "-22 -34 44 62", role: "img", "aria-label": "north is up" },
      drawn("path", { d: "M0 -30L8 8L0 3Z", fill: INK, stroke: INK }), drawn("path", { d: "M0 -30L-8 8L0 3Z", fill: "#fff", stroke: INK }), letter_n()));
    const bar = drawn("svg", { height: 26, role: "img" });
    control(map, "bottomleft", "scale", bar);
    const redraw = () => scale_bar(map, bar);
    map.on("zoomend zoom resize", redraw);
    redraw();
  }

  function letter_n() {
    const text = drawn("text", { y: 25, "text-anchor": "middle", "font-size": 15, "font-weight": 700, "font-family": "Georgia, serif", fill: INK });
    text.textContent = "N";
    return text;
  }

  const per_metre = (map) => map.options.crs.scale(map.getZoom());

  function step_for(metres) {
    const power = 10 ** Math.floor(Math.log10(metres));
    return [5, 2, 1].map((n) => n * power).find((n) => n <= metres * (1 + 1e-9));
  }

  function shown_number(value) {
    return String(Number(value.toPrecision(6)));
  }

  function scale_bar(map, bar) {
    const k = per_metre(map), length = step_for(170 / k), width = length * k;
    bar.replaceChildren();
    bar.setAttribute("width", width + 46);
    bar.setAttribute("aria-label", `scale: the bar is ${shown_number(length)} metres`);
    for (let part = 0; part < 5; part++) bar.append(drawn("rect", { x: 4 + (part * width) / 5, y: 17, width: width / 5, height: 6, fill: part % 2 ? "#fff" : INK, stroke: INK }));
    for (const [x, text, anchor] of [[4, "0", "start"], [4 + width, `${shown_number(length)} m`, "middle"]]) {
      const label = drawn("text", { x, y: 12, "text-anchor": anchor, "font-size": 12, fill: INK });
      label.textContent = text;
      bar.append(label);
    }
  }

  // Lines every so many metres of the site's own plane, numbered along the edges.
  function grid(map) {
    const svg = drawn("svg", { class: "grid", "aria-hidden": "true" });
    map.getContainer().prepend(svg);
    const redraw = () => {
      const size = map.getSize(), step = step_for(Math.max(110 / per_metre(map), 1e-3));
      const low = metres(map.containerPointToLatLng([0, size.y])), high = metres(map.containerPointToLatLng([size.x, 0]));
      let path = "";
      const texts = [];
      for (let n = Math.ceil(low[0] / step); n * step <= high[0]; n++) {
        const x = Math.round(map.latLngToContainerPoint(at([n * step, low[1]])).x) + 0.5;
        path += `M${x} 0V${size.y}`;
        texts.push([x + 3, 11, shown_number(n * step) + (n === 0 ? " m E" : "")]);
      }
      for (let n = Math.ceil(low[1] / step); n * step <= high[1]; n++) {
        const y = Math.round(map.latLngToContainerPoint(at([low[0], n * step])).y) + 0.5;
        path += `M0 ${y}H${size.x}`;
        texts.push([size.x - 4, y - 3, shown_number(n * step) + (n === 0 ? " m N" : "")]);
      }
      svg.replaceChildren(drawn("path", { d: path }));
      for (const [x, y, text] of texts) {
        const label = drawn("text", { x, y, "text-anchor": y === 11 ? "start" : "end" });
        label.textContent = text;
        svg.append(label);
      }
    };
    map.on("move zoom resize viewreset", redraw);
    redraw();
  }

  return { mount };
})();

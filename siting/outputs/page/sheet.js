const siting = (function () {
  const { INK, element, drawn, at, metres, control } = furniture;
  const $ = (id) => document.getElementById(id);

  const sheet = { mount };

  function mount(map, layers) {
    const data = JSON.parse($("sheet-data").textContent);
    for (const f of data.features) { f.label ??= f.name; f.status ??= "existing"; }
    const [west, south, east, north] = data.window;
    const rows = [...document.querySelectorAll("#rows tbody")].map((body) => [...body.rows].slice(1));
    const chosen = { group: L.layerGroup().addTo(map), what: null };
    const lines = L.layerGroup().addTo(map), fails = L.layerGroup(), wells = L.layerGroup();
    const labels = L.layerGroup().addTo(map), points = L.layerGroup().addTo(map), letters = L.layerGroup().addTo(map);
    const reserves = L.layerGroup().addTo(map), walk = L.layerGroup().addTo(map);
    const outlines = new Map(), written = { gauges: [], fails: [], layers: [], heights: [], primes: [] };
    const desk = { map, data, outlines, chosen, labels, letters, fails, written, cited, show_panel, highlight, clear_lines, draw_lines, trying: { on: false } };

    map.fitBounds([at([west, south]), at([east, north])], { animate: false });
    map.getContainer().setAttribute("aria-label", "Map; use the arrow keys to move and plus and minus to zoom");
    furniture.grid(map);
    furniture.furnish(map, () => map.fitBounds([at([west, south]), at([east, north])], { animate: false }), data.directions, document.querySelector("#winds svg"));

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

    // While a place is tried or a distance measured, a tap anywhere is for that.
    function busy() {
      return desk.trying.on || desk.measuring.state.on;
    }

    // A layer that can be clicked can also be reached with Tab and chosen with Enter.
    function reachable(layer, name, act) {
      layer.on("click", (event) => { if (!busy()) { L.DomEvent.stop(event); act(); } });
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

    layers.places.eachLayer((layer) => layer.on("click", (event) => { if (!busy()) { L.DomEvent.stop(event); choose({ place: layer.feature.properties.place }); } }));
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

    const write_all = writing.on(desk);
    Object.assign(desk, trial.on(desk), { measuring: tools.measure(desk) });
    const under = overlays.on(desk);
    desk.heights = under.heights;
    overlays.reserves(desk, reserves);
    for (const name of ["water", "enclosures"]) under[name].addTo(map);

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
      desk.stop_trying();
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
      highlight(what);
      draw_lines(picked);
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
      document.querySelectorAll(".places > li").forEach((item) => {
        const mine = Number(item.dataset.place) === what.place;
        item.classList.toggle("chosen", mine);
        item.querySelector(".pick").setAttribute("aria-pressed", String(mine));
      });
      data.places.forEach((place, n) => {
        const node = place.marker.getElement();
        if (node) node.classList.toggle("chosen", n === what.place);
      });
      const place = data.places[what.place];
      overlays.walk(desk, walk, place);
      overlays.wells(desk, wells, place);
      overlays.clear(desk, chosen.group);
      if (what.feature === undefined) return;
      for (const m of data.mendings) if (m.of === what.feature) overlays.mend(desk, chosen.group, m);
      const f = data.features[what.feature], layer = outlines.get(what.feature);
      const style = { color: INK, weight: 5, opacity: 0.55, fill: false, interactive: false, pane: "lines" };
      if (layer) chosen.group.addLayer(L.geoJSON(layer.feature.geometry, { style, interactive: false, pane: "lines" }));
      for (const p of f.points || []) chosen.group.addLayer(L.circleMarker(at(p), { ...style, radius: 15, weight: 3 }));
    }

    // --- the controls of the page ---------------------------------------------------------------------------------------

    const shown = {
      features: [layers.features, points], labels: [labels], ground: [layers.ground], places: [layers.places, letters], lines: [lines], fails: [fails], wells: [wells],
      water: [under.water], heights: [under.heights], enclosures: [under.enclosures], mendings: [under.mendings], walk: [walk], reserves: [reserves],
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
    document.querySelectorAll(".copy").forEach((button) => button.addEventListener("click", () => tools.copied(button.dataset.copy, button)));

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
        desk.stop_trying();
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
    map.on("click", (event) => {
      if (desk.trying.on) desk.try_at(...metres(event.latlng));
      else if (desk.measuring.state.on) desk.measuring.tap(event.latlng);
    });
    if (data.world && data.places.length) {
      const all = data.places.map((place) => ({ name: "place " + place.name, about: place.about, x: place.x, y: place.y, degrees: place.degrees }));
      $("save-places").append(...tools.savers(data, "places", "places", () => all));
    }
    if (data.trial) {
      const button = element("button", { type: "button", id: "try", class: "wide", "aria-pressed": "false" });
      button.textContent = "try a place";
      button.addEventListener("click", () => (desk.trying.on ? desk.stop_trying() : desk.start_trying()));
      control(map, "bottomright", "zoomer", button);
    }
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
    write_all();
    if (data.places.length) choose({ place: 0 }, { quiet: true });
    else if (data.compromise) choose({ group: "compromise" }, { quiet: true });
    document.documentElement.classList.add("mounted");
    // For tests and for whoever looks into the page.
    return Object.assign(sheet, { map, data, choose, try_at: desk.try_at, start_trying: desk.start_trying, trying: desk.trying });
  }

  return sheet;
})();

// A place tried on the map: moved, turned or typed, and judged as the program judges it.
const trial = (function () {
  const { INK, element, drawn, at, metres } = furniture;
  const $ = (id) => document.getElementById(id);
  const WORDS = { meets: "meets", fails: "fails", "too close to call": "close", "not assessed": "blank" };
  const MARKS = { meets: "M", fails: "F", "too close to call": "?", "not assessed": "N" };
  const ORDER = ["fails", "too close to call", "not assessed", "meets"];

  function on(desk) {
    const { map, data, outlines, chosen } = desk;
    const trying = { on: false, marker: null, shapes: L.layerGroup(), place: null };

    function features_taken_apart() {
      if (data.trial.parts) return;
      data.features.forEach((f, i) => {
        const geometry = f.points ? { type: "MultiPoint", coordinates: f.points } : outlines.get(i).feature.geometry;
        f.parts = plane.taken_apart(geometry);
      });
      data.trial.requirements = data.trial.requirements.map((r) => ({ ...data.trial.shared[r.of], ...r }));
      data.trial.parts = data.trial.geometries.map(plane.taken_apart);
    }

    function start_trying() {
      if (trying.on) return;
      desk.measuring.stop();
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
      desk.highlight({});
      chosen.what = null;
      tool();
      try_at(centre[0], centre[1]);
      $("try").setAttribute("aria-pressed", "true");
      $("try").textContent = "stop trying";
      desk.show_panel();
    }

    function stop_trying() {
      if (!trying.on) return;
      trying.on = false;
      trying.marker.remove();
      trying.shapes.remove();
      desk.clear_lines();
      $("try").setAttribute("aria-pressed", "false");
      $("try").textContent = "try a place";
      $("panel-tool").replaceChildren();
      $("panel-rows").replaceChildren();
      $("panel-head").textContent = "Choose something on the map";
      $("panel-said").textContent = "";
    }

    // What can be set by hand: the turn, and the coordinates; and the place as a file.
    function tool() {
      const turning = element("div", { class: "tool" }), typing = element("form", { class: "tool" }), saving = element("div", { class: "tool" });
      if (data.trial.turns) turning.append(...turns());
      const where = element("code", { id: "tried-at" });
      const copy = element("button", { type: "button", id: "tried-copy", "aria-label": "Copy the coordinates of the place being tried" });
      copy.textContent = "copy";
      copy.addEventListener("click", () => tools.copied(where.textContent, copy));
      saving.append(where, copy);
      if (data.world) saving.append(...tools.savers(data, "tried", "tried-place", () => [{ name: "tried place", about: $("panel-said").textContent, ...trying.place }]));
      typing.append(...typed());
      typing.addEventListener("submit", (event) => { event.preventDefault(); go(); });
      $("panel-tool").replaceChildren(...(data.trial.turns ? [turning] : []), typing, saving);
    }

    function turns() {
      const turn = element("input", { type: "number", min: 0, max: 360, step: "any", value: trying.place.degrees, id: "turn" });
      const name = element("label", { for: "turn" });
      name.textContent = "long side, degrees from north";
      const turn_to = (degrees) => { trying.place.degrees = degrees; try_at(trying.place.x, trying.place.y); };
      turn.addEventListener("input", () => { if (turn.value !== "" && Number.isFinite(Number(turn.value))) turn_to(Number(turn.value)); });
      const by = (degrees, text, label) => {
        const button = element("button", { type: "button", "aria-label": label });
        button.textContent = text;
        button.addEventListener("click", () => { turn.value = String((((trying.place.degrees + degrees) % 360) + 360) % 360); turn_to(Number(turn.value)); });
        return button;
      };
      return [name, by(-5, "\u21ba 5\u00b0", "turn 5 degrees anticlockwise"), turn, by(5, "\u21bb 5\u00b0", "turn 5 degrees clockwise")];
    }

    function typed() {
      const name = element("label", { for: "typed" }), input = element("input", { type: "text", id: "typed", autocomplete: "off", inputmode: "text", placeholder: data.world ? "latitude, longitude" : "metres east, metres north" });
      const button = element("button", { type: "submit", id: "typed-go" }), refused = element("p", { id: "typed-refused", role: "alert", hidden: "" });
      name.textContent = "go to";
      button.textContent = "go";
      return [name, input, button, refused];
    }

    function go() {
      const given = exchange.parsed($("typed").value, Boolean(data.world));
      const refuse = (text) => { $("typed-refused").hidden = false; $("typed-refused").textContent = text; };
      if (given.refused) { refuse(given.refused); return; }
      const xy = data.world ? plane.from_world(data.world, given.lat, given.lon) : [given.x, given.y];
      const away = xy ? Math.hypot(xy[0] - (west + east) / 2, xy[1] - (south + north) / 2) : Infinity;
      // The polynomial of the page holds for the site and around it, no farther.
      if (away > 3 * Math.hypot(east - west, north - south)) { refuse("that is far off this plan: latitude first, then longitude"); return; }
      $("typed-refused").hidden = true;
      if (!map.getBounds().contains(at(xy))) map.panTo(at(xy), { animate: false });
      try_at(...xy);
    }
    const [west, south, east, north] = data.window;

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
      desk.draw_lines(judged.filter((row) => row.line).map((row) => ({ ends: row.line.flat(), pair: String(row.feature), rank: row.r.strength === "must" ? row.margin : row.margin + 1e6 })));
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
      return [tr, desk.cited(tr)];
    }

    return { trying, start_trying, stop_trying, try_at };
  }

  return { on };
})();

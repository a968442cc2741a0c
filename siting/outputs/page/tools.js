// Copying, saving and measuring, from the page alone.
const tools = (function () {
  const { INK, element, drawn, at, metres, control } = furniture;

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

  // A file made of a text in the page; nothing is fetched and nothing leaves the machine.
  function save(name, type, text) {
    const link = element("a", { download: name, href: URL.createObjectURL(new Blob([text], { type })) });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }

  // A place for a file: its outlines turned and moved, in degrees.
  function point_of(data, { name, about, x, y, degrees }) {
    const lonlat = ([px, py]) => { const p = plane.to_world(data.world, px, py); return [p.lon, p.lat]; };
    const outlines = [];
    for (const part of ["enclosure", "pit"]) {
      const outline = data.trial.outlines[part];
      const ring = outline.corners.length === 1 ? disc(x, y, outline.radius) : plane.outline_at(outline, x, y, degrees).areas[0][0];
      outlines.push({ part, ring: ring.map(lonlat) });
    }
    const [lon, lat] = lonlat([x, y]);
    return { name, about, lat, lon, outlines };
  }

  function disc(x, y, radius) {
    const ring = Array.from({ length: 32 }, (_, n) => [x + radius * Math.cos((n * Math.PI) / 16), y + radius * Math.sin((n * Math.PI) / 16)]);
    return [...ring, ring[0]];
  }

  // Two buttons, GPX and GeoJSON, for whatever places `listed` gives when they are pressed.
  function savers(data, id, file, listed) {
    const made = [["GPX", "gpx", "application/gpx+xml", exchange.gpx], ["GeoJSON", "geojson", "application/geo+json", exchange.geojson]];
    return made.map(([word, ending, type, written]) => {
      const button = element("button", { type: "button", class: "save", id: `${id}-${ending}` });
      button.textContent = "save as " + word;
      button.addEventListener("click", () => save(`${file}.${ending}`, type, written(listed().map((p) => point_of(data, p)))));
      return button;
    });
  }

  // Two taps: how far apart they are, and on which bearing.
  function measure(desk) {
    const { map } = desk, state = { on: false, from: null }, drawing = L.layerGroup();
    const button = element("button", { type: "button", id: "measure", class: "wide", "aria-pressed": "false" });
    const said = element("div", { id: "measured", role: "status", "aria-live": "polite", hidden: "" });
    button.textContent = "measure";
    button.addEventListener("click", () => (state.on ? stop() : start()));
    control(map, "bottomright", "zoomer measuring", said, button);

    function start() {
      desk.stop_trying();
      state.on = true;
      state.from = null;
      drawing.addTo(map);
      button.setAttribute("aria-pressed", "true");
      button.textContent = "stop measuring";
      say("tap the first point, or press Enter for the middle of the map");
    }

    function stop() {
      if (!state.on) return;
      state.on = false;
      drawing.clearLayers().remove();
      button.setAttribute("aria-pressed", "false");
      button.textContent = "measure";
      said.hidden = true;
    }

    function say(text) {
      said.hidden = false;
      said.textContent = text;
    }

    // With the map in focus, Enter measures from its middle: the arrow keys move the map under it.
    map.getContainer().addEventListener("keydown", (event) => {
      if (!state.on || event.key !== "Enter" || event.target !== map.getContainer()) return;
      event.preventDefault();
      tap(map.getCenter());
    });

    function tap(latlng) {
      const here = metres(latlng);
      if (!state.from) {
        drawing.clearLayers();
        drawing.addLayer(mark(here));
        state.from = here;
        say("tap the second point");
        return;
      }
      const [x, y] = state.from, dx = here[0] - x, dy = here[1] - y, bearing = (Math.round(plane.bearing(dx, dy) * 10) % 3600) / 10;
      drawing.addLayer(mark(here));
      drawing.addLayer(L.polyline([at(state.from), at(here)], { color: INK, weight: 1.8, dashArray: "2 4", interactive: false, pane: "lines" }));
      state.from = null;
      say(`${Math.hypot(dx, dy).toFixed(2)} m on bearing ${bearing}\u00b0, read off the map`);
    }

    function mark(xy) {
      const cross = drawn("svg", { width: 20, height: 20, viewBox: "-10 -10 20 20", "aria-hidden": "true" }, drawn("path", { d: "M-9 0H9M0 -9V9", stroke: INK, "stroke-width": 1.6 }));
      return L.marker(at(xy), { icon: L.divIcon({ className: "tapped", html: cross, iconSize: [20, 20] }), interactive: false, keyboard: false });
    }

    return { state, tap, stop };
  }

  return { copied, save, savers, measure };
})();

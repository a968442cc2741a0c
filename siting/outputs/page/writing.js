// Names, letters and lengths written on the map where there is room.
const writing = (function () {
  const { element, at } = furniture;

  function on(desk) {
    const { map, data, outlines, labels, letters, fails, written } = desk;

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

    const BESIDE = [[0, 20], [24, 0], [-24, 0], [0, -20], [24, 22], [-24, 22], [24, -22], [-24, -22], [0, 42], [48, 0], [-48, 0], [0, -42], [48, 22], [-48, 22]];
    const FIRST = ["source", "pit", "latrine", "sewage", "burner", "surface", "stored"];
    const order = data.features
      .map((f, i) => ({ f, i }))
      .filter(({ f }) => f.symbol !== "boundary")
      .sort((a, b) => FIRST.includes(b.f.symbol) - FIRST.includes(a.f.symbol) || a.i - b.i);

    // Everything written on the map keeps clear of everything else; what matters most is placed first.
    function write_all() {
      const size = map.getSize(), taken = [];
      const free = (box) => !taken.some((t) => t[0] < box[2] && box[0] < t[2] && t[1] < box[3] && box[1] < t[3]);
      const claim = (box) => free(box) && taken.push(box) > 0;
      const pixel = (xy) => map.latLngToContainerPoint(at(xy));
      standing ??= furniture_boxes();
      taken.push(...standing);
      for (const place of data.places) { const p = pixel([place.x, place.y]); taken.push([p.x - 5, p.y - 5, p.x + 5, p.y + 5]); }
      for (const { f } of order) for (const q of f.points || []) { const p = pixel(q); taken.push([p.x - 9, p.y - 9, p.x + 9, p.y + 9]); }
      if (desk.trying.on) { const p = pixel([desk.trying.place.x, desk.trying.place.y]); taken.push([p.x - 20, p.y - 20, p.x + 20, p.y + 20]); }
      if (map.hasLayer(letters)) fan_out(claim);
      for (const { xy, letter, layer } of written.primes) {
        if (!map.hasLayer(layer)) continue;
        const p = pixel(xy);
        const [dx, dy] = BESIDE.find(([x, y]) => claim([p.x + x - 13, p.y + y - 11, p.x + x + 13, p.y + y + 11])) || BESIDE[0];
        letter.style.left = `${dx}px`;
        letter.style.top = `${dy}px`;
      }
      for (const mark of [...written.gauges, ...(map.hasLayer(fails) ? written.fails : []), ...written.layers.filter(({ layer }) => map.hasLayer(layer))]) {
        const w = 7 * mark.text.length + 10;
        const tried = (mark.legs || [mark.ends]).flatMap((ends) => [0.5, 0.62, 0.38, 0.74, 0.26].map((share) => [ends, share]));
        for (const [ends, share] of tried) {
          const xy = [ends[0] + share * (ends[2] - ends[0]), ends[1] + share * (ends[3] - ends[1])], p = pixel(xy);
          const seen = claim([p.x - w / 2, p.y - 10, p.x + w / 2, p.y + 10]);
          mark.marker.setOpacity(seen ? 1 : 0);
          mark.marker.setLatLng(at(xy));
          if (seen) break;
        }
      }
      write_names(claim, size, pixel);
      if (!map.hasLayer(desk.heights)) return;
      for (const { xy, text } of written.heights) {
        const p = pixel(xy);
        text.style.visibility = claim([p.x - 6, p.y - 6, p.x + 42, p.y + 6]) ? "" : "hidden";
      }
    }

    // To ask for them makes the browser lay the page out, so they are kept while the map stands still.
    let standing = null;
    function furniture_boxes() {
      const corner = map.getContainer().getBoundingClientRect();
      return [...map.getContainer().querySelectorAll(".leaflet-control")]
        .map((control) => control.getBoundingClientRect())
        .filter((b) => b.width > 0)
        .map((b) => [b.left - corner.left - 6, b.top - corner.top - 6, b.right - corner.left + 6, b.bottom - corner.top + 6]);
    }

    // A name that stays where it was is left alone.
    const names = new Map();
    function write_names(claim, size, pixel) {
      if (!map.hasLayer(labels)) return;
      const kept = new Set();
      for (const { f, i } of order) {
        const p = pixel(f.at);
        if (p.x < -50 || p.y < -20 || p.x > size.x + 50 || p.y > size.y + 20) continue;
        const w = 6.6 * f.label.length + 4, h = 15;
        const spot = spots(f, i, p, w, h).find(([dx, dy]) => claim([p.x + dx, p.y + dy, p.x + dx + w, p.y + dy + h]));
        if (!spot) continue;
        const side = spot[2] || "center", key = spot.join();
        kept.add(i);
        if (names.has(i) && names.get(i).key === key) continue;
        if (names.has(i)) labels.removeLayer(names.get(i).marker);
        const text = element("span", { style: `left:${spot[0]}px;top:${spot[1]}px;width:${w}px;text-align:${side}` });
        text.textContent = f.label;
        const marker = L.marker(at(f.at), { icon: L.divIcon({ className: "word", html: text, iconSize: [0, 0] }), interactive: false, keyboard: false, zIndexOffset: -500 });
        labels.addLayer(marker);
        names.set(i, { key, marker });
      }
      for (const [i, { marker }] of names) {
        if (kept.has(i)) continue;
        labels.removeLayer(marker);
        names.delete(i);
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
    map.on("zoomend moveend resize", () => { standing = null; write_all(); });
    return write_all;
  }

  return { on };
})();

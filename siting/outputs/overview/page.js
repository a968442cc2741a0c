"use strict";
// DATA: { verdicts: [[css, mark, word, colour, radius]], columns: [..], graticule, rows: [[lon, lat, verdict, cells..]] }
(function () {
  const map = L.map("map", {
    preferCanvas: true, zoomControl: true, attributionControl: false, zoomSnap: 0.25, maxZoom: 22, fadeAnimation: false,
  });
  L.control.scale({ imperial: false }).addTo(map);
  const renderer = L.canvas({ padding: 0.3, tolerance: 4 });
  const SHOWN = 500;
  const body = document.getElementById("rows");
  const said = document.getElementById("shown");
  const markers = new Array(DATA.rows.length);
  const lines = L.layerGroup().addTo(map);
  let chosen = null;

  DATA.rows.forEach((row, index) => {
    if (row[0] === null) return;
    const [, , word, colour, radius] = DATA.verdicts[row[2]];
    const marker = L.circleMarker([row[1], row[0]], {
      renderer, radius, color: colour, weight: 1.5, fillColor: colour, fillOpacity: word === "fails" ? 0.85 : 0.25,
      dashArray: word === "too close to call" ? "3 3" : null,
    });
    marker.on("click", () => choose(index, true));
    markers[index] = marker;
  });

  function matches(row, verdicts, text) {
    return verdicts.has(row[2]) && (!text || row.slice(3).join(" ").toLowerCase().includes(text));
  }

  function draw() {
    const form = new FormData(document.getElementById("filters"));
    const verdicts = new Set(form.getAll("verdict").map(Number));
    const text = String(form.get("text") || "").trim().toLowerCase();
    const rows = document.createDocumentFragment();
    let count = 0;
    DATA.rows.forEach((row, index) => {
      const on = matches(row, verdicts, text);
      const marker = markers[index];
      if (marker) { if (on && !map.hasLayer(marker)) marker.addTo(map); else if (!on && map.hasLayer(marker)) marker.remove(); }
      if (!on) return;
      count += 1;
      if (count <= SHOWN) rows.appendChild(line(row, index));
    });
    body.replaceChildren(rows);
    said.textContent = `${count} of ${DATA.rows.length} listed places` + (count > SHOWN ? `; the first ${SHOWN} are in the table` : "");
  }

  function line(row, index) {
    const tr = document.createElement("tr");
    tr.tabIndex = 0;
    tr.dataset.index = String(index);
    const first = document.createElement("td");
    const mark = document.createElement("span");
    mark.className = `mark ${DATA.verdicts[row[2]][0]}`;
    mark.textContent = DATA.verdicts[row[2]][1];
    mark.title = DATA.verdicts[row[2]][2];
    first.append(mark, " ", row[3]);
    tr.append(first);
    row.slice(4).forEach((cell) => { const td = document.createElement("td"); td.textContent = cell; tr.append(td); });
    tr.addEventListener("click", () => choose(index, false));
    tr.addEventListener("keydown", (event) => { if (event.key === "Enter") choose(index, false); });
    return tr;
  }

  function choose(index, fromMap) {
    const row = DATA.rows[index];
    if (chosen) chosen.classList.remove("chosen");
    chosen = body.querySelector(`tr[data-index="${index}"]`);
    if (chosen) { chosen.classList.add("chosen"); if (fromMap) chosen.scrollIntoView({ block: "center" }); }
    if (row[0] === null) return;
    const tip = document.createElement("div");
    tip.className = "tip";
    tip.textContent = `${DATA.verdicts[row[2]][2]}: ${row.slice(3).filter(Boolean).join(", ")}`;
    if (!fromMap) map.setView([row[1], row[0]], Math.max(map.getZoom(), 14), { animate: false });
    L.popup({ closeButton: true }).setLatLng([row[1], row[0]]).setContent(tip).openOn(map);
  }

  function graticule() {
    lines.clearLayers();
    const bounds = map.getBounds();
    const wide = bounds.getEast() - bounds.getWest();
    const step = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30].find((s) => wide / s <= 6) || 45;
    const style = { renderer, color: "#6d675d", weight: 0.5, interactive: false };
    const word = (value) => value.toFixed(step < 1 ? Math.ceil(-Math.log10(step)) : 0) + "°";
    const label = (at, text, anchor) => L.marker(at, { interactive: false, keyboard: false, icon: L.divIcon({ className: "tip", html: document.createTextNode(text).textContent, iconSize: [60, 14], iconAnchor: anchor }) }).addTo(lines);
    for (let lon = Math.ceil(bounds.getWest() / step) * step; lon < bounds.getEast(); lon += step) {
      L.polyline([[bounds.getSouth(), lon], [bounds.getNorth(), lon]], style).addTo(lines);
      label([bounds.getSouth() + (bounds.getNorth() - bounds.getSouth()) * 0.03, lon], word(lon), [30, 7]);
    }
    for (let lat = Math.ceil(bounds.getSouth() / step) * step; lat < bounds.getNorth(); lat += step) {
      L.polyline([[lat, bounds.getWest()], [lat, bounds.getEast()]], style).addTo(lines);
      label([lat, bounds.getWest() + wide * 0.01], word(lat), [0, 7]);
    }
  }

  const placed = DATA.rows.filter((row) => row[0] !== null);
  if (placed.length) {
    const bounds = L.latLngBounds(placed.map((row) => [row[1], row[0]]));
    map.fitBounds(bounds.pad(0.05), { animate: false, maxZoom: 16 });
  } else map.setView([0, 0], 1, { animate: false });
  map.on("moveend", graticule);
  document.getElementById("filters").addEventListener("input", draw);
  document.getElementById("filters").addEventListener("submit", (event) => event.preventDefault());
  draw();
  graticule();
})();

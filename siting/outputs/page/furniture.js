// What stands round any map here: buttons, scale bar, north arrow, grid; and the making of elements.
const furniture = (function () {
  const INK = "#22282b", SVG = "http://www.w3.org/2000/svg";

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

  function furnish(map, home, directions, rose) {
    const button = (text, name, act) => {
      const made = element("button", { type: "button", "aria-label": name });
      made.textContent = text;
      made.addEventListener("click", act);
      return made;
    };
    control(map, "topleft", "zoomer", button("+", "zoom in", () => map.zoomIn(1)), button("\u2212", "zoom out", () => map.zoomOut(1)), button("\u2302", "show everything", home));
    control(map, "topright", "north", drawn("svg", { width: 44, height: 62, viewBox: "-22 -34 44 62", role: "img", "aria-label": "north is up" },
      drawn("path", { d: "M0 -30L8 8L0 3Z", fill: INK, stroke: INK }), drawn("path", { d: "M0 -30L-8 8L0 3Z", fill: "#fff", stroke: INK }), letter_n()), ...directions.map(arrow));
    if (rose) {
      const words = element("div", {});
      words.textContent = "wind from, %";
      control(map, "topright", "winds", rose.cloneNode(true), words);
    }
    const bar = drawn("svg", { height: 26, role: "img" });
    control(map, "bottomleft", "scale", bar);
    const redraw = () => scale_bar(map, bar);
    map.on("zoomend zoom resize", redraw);
    redraw();
  }

  function arrow([word, bearing]) {
    const name = element("div", {});
    name.textContent = word;
    name.prepend(drawn("svg", { width: 30, height: 30, viewBox: "-15 -15 30 30", role: "img", "aria-label": `${word} goes towards ${Math.round(bearing)} degrees` },
      drawn("path", { d: "M0 12V-10M-5 -4L0 -11L5 -4", fill: "none", stroke: INK, "stroke-width": 1.8, transform: `rotate(${bearing})` })));
    return name;
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
        if (x > 70 && x < size.x - 240) texts.push([x + 3, 11, shown_number(n * step) + (n === 0 ? " m E" : "")]);
      }
      for (let n = Math.ceil(low[1] / step); n * step <= high[1]; n++) {
        const y = Math.round(map.latLngToContainerPoint(at([low[0], n * step])).y) + 0.5;
        path += `M0 ${y}H${size.x}`;
        if (y > 100 && y < size.y - 70) texts.push([size.x - 4, y - 3, shown_number(n * step) + (n === 0 ? " m N" : "")]);
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

  return { INK, element, drawn, at, metres, control, furnish, grid };
})();

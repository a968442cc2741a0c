"use strict";
// Distances and verdicts on the site's own plane, as the package reckons them: x east, y north, metres.
// Nothing here touches the page, so that the same functions run under node.
const plane = (function () {
  // --- geometry: every GeoJSON geometry becomes points, segments and areas ---------------------------------------

  function taken_apart(geometry) {
    const parts = { points: [], segments: [], areas: [] };
    collect(geometry, parts);
    return parts;
  }

  function collect(geometry, parts) {
    const c = geometry.coordinates;
    switch (geometry.type) {
      case "Point": parts.points.push(c); break;
      case "MultiPoint": parts.points.push(...c); break;
      case "LineString": string(c, parts); break;
      case "MultiLineString": c.forEach((line) => string(line, parts)); break;
      case "Polygon": area(c, parts); break;
      case "MultiPolygon": c.forEach((polygon) => area(polygon, parts)); break;
      case "GeometryCollection": geometry.geometries.forEach((g) => collect(g, parts)); break;
    }
  }

  function string(line, parts) {
    for (let i = 1; i < line.length; i++) parts.segments.push([line[i - 1], line[i]]);
  }

  function area(rings, parts) {
    parts.areas.push(rings);
    rings.forEach((ring) => string(ring, parts));
  }

  function to_segment(p, [a, b]) {
    const dx = b[0] - a[0], dy = b[1] - a[1], square = dx * dx + dy * dy;
    const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square));
    const near = [a[0] + t * dx, a[1] + t * dy];
    return { d: Math.hypot(p[0] - near[0], p[1] - near[1]), from: p, to: near };
  }

  function side(a, b, p) {
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
  }

  function crossing([a, b], [c, d]) {
    const u = side(c, d, a), v = side(c, d, b), w = side(a, b, c), z = side(a, b, d);
    if (!(u * v < 0 && w * z < 0)) return null;
    const t = u / (u - v);
    return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
  }

  function between_segments(s, t) {
    const at = crossing(s, t);
    if (at) return { d: 0, from: at, to: at };
    return nearer(
      nearer(to_segment(s[0], t), to_segment(s[1], t)),
      nearer(turned(to_segment(t[0], s)), turned(to_segment(t[1], s))),
    );
  }

  function turned(line) { return { d: line.d, from: line.to, to: line.from }; }
  function nearer(a, b) { return b.d < a.d ? b : a; }
  const NOWHERE = { d: Infinity, from: null, to: null };

  // Even-odd over all rings, so that holes count as outside.
  function in_area(p, rings) {
    let inside = false;
    for (const ring of rings) {
      for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
        const a = ring[i], b = ring[j];
        if (a[1] > p[1] !== b[1] > p[1] && p[0] < ((b[0] - a[0]) * (p[1] - a[1])) / (b[1] - a[1]) + a[0]) inside = !inside;
      }
    }
    return inside;
  }

  function in_any(p, areas) { return areas.some((rings) => in_area(p, rings)); }

  // The shortest line between two geometries taken apart; an overlap has length 0.
  function shortest(one, other) {
    let best = to_edges(one, other);
    if (best.d > 0) {
      const mine = one.points[0] || (one.segments[0] && one.segments[0][0]);
      const theirs = other.points[0] || (other.segments[0] && other.segments[0][0]);
      if (one.points.some((p) => in_any(p, other.areas)) || (mine && in_any(mine, other.areas))) best = { d: 0, from: mine, to: mine };
      else if (other.points.some((p) => in_any(p, one.areas)) || (theirs && in_any(theirs, one.areas))) best = { d: 0, from: theirs, to: theirs };
      else if (other.segments.some(([p]) => in_any(p, one.areas))) best = { d: 0, from: theirs, to: theirs };
      else if (one.segments.some(([p]) => in_any(p, other.areas))) best = { d: 0, from: mine, to: mine };
    }
    return best;
  }

  function to_edges(one, other) {
    let best = NOWHERE;
    for (const p of one.points) {
      for (const q of other.points) best = nearer(best, { d: Math.hypot(p[0] - q[0], p[1] - q[1]), from: p, to: q });
      for (const s of other.segments) best = nearer(best, to_segment(p, s));
    }
    for (const s of one.segments) {
      for (const q of other.points) best = nearer(best, turned(to_segment(q, s)));
      for (const t of other.segments) best = nearer(best, between_segments(s, t));
    }
    return best;
  }

  function edges_of(parts) { return { points: [], segments: parts.segments, areas: [] }; }

  // --- the outline of what is placed -----------------------------------------------------------------------------

  function outline_at(outline, x, y, degrees) {
    const turn = (degrees * Math.PI) / 180, c = Math.cos(turn), s = Math.sin(turn);
    if (outline.corners.length === 1) return taken_apart({ type: "Point", coordinates: [x, y] });
    const ring = outline.corners.map(([e, n]) => [x + c * e + s * n, y - s * e + c * n]);
    return taken_apart({ type: "Polygon", coordinates: [ring] });
  }

  // --- margins ---------------------------------------------------------------------------------------------------

  const JUMP = 0.001; // where a straight-edged outline begins to overlap

  function corners(parts) { return parts.points.concat(parts.segments.flat()); }

  // Depth in an area of the corner that is deepest in it; zero where none is inside.
  function depth(points, area_parts) {
    const inside = points.filter((p) => in_any(p, area_parts.areas));
    return Math.max(0, ...inside.map((p) => to_edges({ points: [p], segments: [] }, edges_of(area_parts)).d));
  }

  function margin_of(r, outline, shape, geometry) {
    const disc = shape.points.length > 0;
    if (r.sense === "inside") {
      const edge = to_edges(shape, edges_of(geometry)).d;
      const out = corners(shape).filter((p) => !in_any(p, geometry.areas));
      if (!out.length && edge > 0) return edge - outline.radius - r.limitM;
      const far = Math.max(0, ...out.map((p) => to_edges({ points: [p], segments: [] }, edges_of(geometry)).d));
      return -(disc ? 0 : JUMP) - far - outline.radius - r.limitM;
    }
    let d = shortest(shape, geometry).d;
    if (r.sense === "within") return r.limitM - Math.max(d - outline.radius - r.gap, 0);
    if (d === 0) {
      if (!disc) d = -JUMP - Math.max(depth(corners(shape), geometry), depth(corners(geometry), shape));
      else if (geometry.areas.length) d = -to_edges(shape, edges_of(geometry)).d;
    }
    return d - outline.radius - r.gap - r.limitM;
  }

  // --- verdicts --------------------------------------------------------------------------------------------------

  // Complementary error function: rational Chebyshev fit, fractional error below 1.2e-7
  // (Press et al., Numerical Recipes, 6.2, from memory).
  function erfc(x) {
    const z = Math.abs(x), t = 1 / (1 + 0.5 * z);
    const terms = [0.17087277, -0.82215223, 1.48851587, -1.13520398, 0.27886807, -0.18628806, 0.09678418, 0.37409196, 1.00002368, -1.26551223];
    const value = t * Math.exp(terms.reduce((sum, term) => sum * t + term, 0) - z * z);
    return x >= 0 ? value : 2 - value;
  }

  function probability(margin, sigma, strict) {
    if (sigma > 0) return 0.5 * erfc(-margin / (sigma * Math.SQRT2));
    return margin > 0 || (margin === 0 && !strict) ? 1 : 0;
  }

  function decide(met, confidence) {
    if (met >= confidence) return "meets";
    return met <= 1 - confidence ? "fails" : "too close to call";
  }

  const HAIR = 1e-6;
  function settled(margin) { return Math.round(margin / HAIR) * HAIR + 0; }
  function is_minimum(r) { return r.relation === "at_least" || r.relation === "more_than"; }
  function is_strict(r) { return r.relation === "more_than" || r.relation === "less_than"; }

  function bearing(dx, dy) { return ((Math.atan2(dx, dy) * 180) / Math.PI + 360) % 360; }

  // Whether a place lies on the other side of a feature than the one that binds.
  function off_side(r, place) {
    if (!r.sideBearing) return false;
    const [middle, x, y] = r.sideBearing;
    const turn = ((((bearing(place.x - x, place.y - y) - middle + 180) % 360) + 360) % 360) - 180;
    return Math.abs(turn) > r.sector / 2;
  }

  // Every rule against its governing feature at one place: the one least likely to meet it, then one on the side that
  // binds, then the smallest margin.
  function judge(trial, features, place, confidence) {
    const shapes = {};
    for (const name of ["pit", "enclosure"]) shapes[name] = outline_at(trial.outlines[name], place.x, place.y, place.degrees);
    const governing = new Map();
    for (const r of trial.requirements) {
      const name = r.outline === "pit" ? "pit" : "enclosure", outline = trial.outlines[name], shape = shapes[name];
      const geometry = r.sense === "fixed" ? null : r.geometry === undefined ? features[r.feature].parts : trial.parts[r.geometry];
      const margin = settled(r.sense === "fixed" ? fixed_margin(r) : margin_of(r, outline, shape, geometry));
      const met = probability(margin, r.sigma, is_strict(r)), fails = decide(met, confidence) === "fails" ? 1 : 0;
      const one = { r, margin, met, off: margin > 0 && off_side(r, place) ? 1 : 0, outline, shape, geometry, failing: fails };
      const key = r.rule + "/" + r.relation, held = governing.get(key);
      if (!held) { governing.set(key, one); continue; }
      one.failing = held.failing + fails;
      held.failing = one.failing;
      if (one.met < held.met || (one.met === held.met && (one.off < held.off || (one.off === held.off && one.margin < held.margin)))) governing.set(key, one);
    }
    return [...governing.values()].map((h) => row(h, trial, features, place, confidence));
  }

  function fixed_margin(r) {
    return is_minimum(r) ? r.value - r.limitM : r.limitM - r.value;
  }

  function row(held, trial, features, place, confidence) {
    const { r, outline, shape, geometry } = held, per = r.perUnit || 1;
    let margin = held.margin, decisive = margin, distance = null, line = null, feature = r.feature === undefined ? -1 : r.feature;
    if (geometry && feature < 0 && r.sense === "within") feature = nearest(shape, r.among, features);
    if (geometry && feature >= 0) {
      const inside = r.sense === "inside", f = features[feature], gap = f.radius || 0;
      const target = inside ? edges_of(geometry) : f.kind === "boundary" ? edges_of(f.parts) : f.parts;
      line = shortest(shape, target);
      if (inside) distance = margin + r.limitM;
      else if (r.sided) distance = Math.max(0, line.d - outline.radius - gap);
      else if (r.sense === "within") distance = r.limitM - margin;
      else distance = Math.max(0, margin + r.limitM);
      line = drawn(line, outline.radius, inside ? 0 : gap);
    }
    const made = { r, feature, line, failing: held.failing, because: because(r, feature < 0 ? null : features[feature], held.failing) };
    const strict = is_strict(r), value_at = value_of(r, trial);
    if (value_at) {
      const values = rim(shape, outline.radius).map(value_at);
      made.value = is_minimum(r) ? Math.min(...values) : Math.max(...values);
      made.margin = settled(is_minimum(r) ? made.value - r.required : r.required - made.value);
      made.sigma = r.valueSigma || 0;
      made.met = probability(made.margin, made.sigma, strict);
    } else if (distance === null) {
      Object.assign(made, { value: r.value, margin, sigma: r.sigma, met: probability(margin, r.sigma, strict) });
    } else {
      if (r.sense === "outside") {
        const required = r.required * per;
        if (!r.sided) margin = Math.max(margin, -required);
        else if (margin <= 0 && required > 0) {
          // The least move that would end it decides: farther off, or over to the other side.
          decisive = Math.max(distance - required, margin);
          margin = distance - required;
        }
      }
      margin = settled(margin);
      const met = probability(r.sided ? settled(decisive) : margin, r.sigma, strict);
      Object.assign(made, { value: distance / per, margin: margin / per, sigma: r.sigma / per, met });
    }
    made.verdict = decide(made.met, confidence);
    return made;
  }

  // What changes from place to place and is not a distance, as a function of the place; null for every other rule.
  function value_of(r, trial) {
    if (r.plane) return ([x, y]) => r.plane[0] * x + r.plane[1] * y + r.plane[2];
    if (r.onFaces) return (p) => slope_at(trial.faces, p);
    if (r.smokeTo) return (p) => share_downwind(trial.rose, bearing(r.smokeTo[0] - p[0], r.smokeTo[1] - p[1]));
    return null;
  }

  const ON_FACE = 1e-9; // of several triangles that touch a place, the first counts

  // Slope [percent] of the triangle between spot heights that a place lies on, or of the nearest.
  function slope_at(faces, p) {
    let least = Infinity, slope = NaN;
    for (const [i, j, k, percent] of faces.triangles) {
      const ring = [faces.corners[i], faces.corners[j], faces.corners[k], faces.corners[i]];
      const d = in_area(p, [ring]) ? 0 : Math.min(...[0, 1, 2].map((n) => to_segment(p, [ring[n], ring[n + 1]]).d));
      if (d < least - ON_FACE) { least = d; slope = percent; }
    }
    return slope;
  }

  // Share of all hours [percent] that the wind blows from a place towards a bearing.
  function share_downwind(rose, towards) {
    const count = rose.shares.length, width = 360 / count;
    const sector = Math.floor(((((towards + 180 + width / 2) % 360) + 360) % 360) / width) % count;
    const hours = rose.shares.reduce((sum, share) => sum + share, 0) + rose.calm;
    return hours ? (100 * rose.shares[sector]) / hours : 0;
  }

  // The corners of an outline, or eight points of the rim of a disc.
  function rim(shape, radius) {
    if (!shape.points.length) return corners(shape);
    const [x, y] = shape.points[0];
    return [0, 1, 2, 3, 4, 5, 6, 7].map((n) => [x + radius * Math.cos((n * Math.PI) / 4), y + radius * Math.sin((n * Math.PI) / 4)]);
  }

  function because(r, f, failing) {
    const parts = r.because ? [r.because] : [];
    if (r.sided && f && r.side) parts.push(`applies ${r.side} of ${f.name}`);
    if (r.recorded) parts.push("nearest of those recorded: how far was looked does not cover this rule");
    if (f && f.points && f.radius === undefined) parts.push(`${f.name} has no size given and counts as a point`);
    if (f && f.status === "closed") parts.push(`${f.name} is closed but stays a hazard`);
    if (failing > 1) parts.push(`${failing} features fail this rule; the worst is shown`);
    return parts.join("; ");
  }

  function nearest(shape, among, features) {
    let best = -1, least = Infinity;
    for (const i of among) {
      const d = shortest(shape, features[i].parts).d - (features[i].radius || 0);
      if (d < least || (d === least && features[i].name < features[best].name)) { best = i; least = d; }
    }
    return best;
  }

  function drawn(line, radius, gap) {
    if (line.d <= radius + gap || line.d === 0) return line.from && line.d ? [line.from, line.to] : null;
    const dx = (line.to[0] - line.from[0]) / line.d, dy = (line.to[1] - line.from[1]) / line.d;
    return [[line.from[0] + dx * radius, line.from[1] + dy * radius], [line.to[0] - dx * gap, line.to[1] - dy * gap]];
  }

  // --- numbers as they are printed: rounding never flatters --------------------------------------------------------

  function floored(value) {
    const cut = Math.floor(value * 100 + 1e-6) / 100;
    return cut.toFixed(2);
  }

  function ceiled(value) {
    return (Math.ceil(value * 100 - 1e-6) / 100 + 0).toFixed(2);
  }

  function signed(value) {
    const text = floored(value);
    return text.startsWith("-") ? "\u2212" + text.slice(1) : "+" + text;
  }

  function probability_text(p) {
    if (p === 0 || p === 1) return String(p);
    if (p < 0.001) return "< 0.001";
    return p > 0.999 ? "> 0.999" : (Math.floor(p * 1000) / 1000).toFixed(3);
  }

  // --- from the plane to degrees -----------------------------------------------------------------------------------

  const POWERS = [[0, 0], [1, 0], [0, 1], [2, 0], [1, 1], [0, 2], [3, 0], [2, 1], [1, 2], [0, 3]];
  function to_world(world, x, y) {
    const u = x / world.unit, v = y / world.unit;
    const sum = (terms) => terms[0] + POWERS.reduce((s, [i, j], n) => s + terms[n + 1] * u ** i * v ** j, 0);
    const lon = sum(world.lon);
    return { lon: lon - 360 * Math.round(lon / 360), lat: sum(world.lat) };
  }

  // From degrees to the plane: the same polynomial turned round, step by step; null where it leads nowhere near.
  function from_world(world, lat, lon) {
    let x = 0, y = 0;
    const wanted = lon - 360 * Math.round((lon - world.lon[0]) / 360);
    const unwrapped = (px, py) => {
      const here = to_world(world, px, py);
      return [here.lon - 360 * Math.round((here.lon - world.lon[0]) / 360), here.lat];
    };
    for (let turn = 0; turn < 12; turn++) {
      const [lon0, lat0] = unwrapped(x, y), [lon1, lat1] = unwrapped(x + 1, y), [lon2, lat2] = unwrapped(x, y + 1);
      const a = lon1 - lon0, b = lon2 - lon0, c = lat1 - lat0, d = lat2 - lat0, of = a * d - b * c;
      const dx = (d * (wanted - lon0) - b * (lat - lat0)) / of, dy = (a * (lat - lat0) - c * (wanted - lon0)) / of;
      x += dx;
      y += dy;
      if (!(Math.abs(x) < 20 * world.unit && Math.abs(y) < 20 * world.unit)) return null;
      if (Math.hypot(dx, dy) < 1e-5) return [x, y];
    }
    return null;
  }

  return { taken_apart, bearing, slope_at, share_downwind, from_world, shortest, in_area, outline_at, margin_of, erfc, probability, decide, judge, floored, ceiled, signed, probability_text, to_world, is_minimum };
})();
if (typeof module !== "undefined") module.exports = plane;

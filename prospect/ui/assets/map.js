// The map's own hands: panes, view layers fetched by address, patterns, marks. All words go in as text, never as HTML.
(function () {
  "use strict";
  const KEPT_VIEW = "claywalk-view";
  const PATTERN_PX = 18;
  let kept = null; // what is on the map now

  function start(map, options) {
    if (kept && kept.map === map) { return; }
    document.documentElement.dataset.theme = options.theme;
    map.attributionControl && map.attributionControl.remove();
    [["colour", 210], ["relief", 220], ["doubt", 230]].forEach(([name, z]) => {
      map.createPane(name).style.zIndex = z;
    });
    map.createPane("fills").style.zIndex = 350;
    map.createPane("lines").style.zIndex = 420;
    map.createPane("spot").style.zIndex = 660;
    L.control.scale({ metric: options.units !== "us", imperial: options.units === "us", maxWidth: 140 }).addTo(map);
    northArrow(map);
    kept = { map, tiles: new Map(), views: new Map(), target: null, later: null, fitted: null, ranks: L.layerGroup().addTo(map), sites: [], spot: null };
    kept.word = box(map, "cw-word");
    kept.say = box(map, "cw-say");
    kept.say.setAttribute("role", "status");
    new ResizeObserver(() => { resized(map); }).observe(map.getContainer());
    map.on("click", (event) => markSpot(event.latlng));
    map.on("mousemove", speak);
    map.on("mouseout movestart", () => { kept.word.style.display = "none"; });
    document.addEventListener("keydown", () => { document.documentElement.dataset.keys = "yes"; });
    document.addEventListener("pointerdown", () => { delete document.documentElement.dataset.keys; });
    map.on("zoomend", () => showRanks(kept.sites));
    map.on("moveend", () => { keepView(map); kept.views.forEach(refresh); });
    map.getContainer().setAttribute("aria-label", "Map of the ground. The ranked sites are also listed beside it as text.");
  }

  function show(map, state) {
    document.documentElement.dataset.theme = state.theme;
    if (state.target.nonce !== kept.target) { look(state.target); } // before any layer asks for tiles of the wrong place
    showTiles(map, state.tiles);
    showViews(map, state.views);
    showRanks(state.ranks);
    if (state.spot) { markSpot(L.latLng(state.spot[1], state.spot[0])); } else { unmarkSpot(); }
  }

  function look(target) {
    const map = kept.map, size = map.getSize();
    kept.later = size.x > 20 && size.y > 20 ? null : target; // a frame that is not laid out yet is tried again
    if (kept.later) { return; }
    const view = kept.target === null ? keptView(target.nonce) : null;
    kept.target = target.nonce;
    if (view) { map.setView(view.center, view.zoom, { animate: false }); kept.fitted = null; }
    else { fit(target); }
  }

  function fit(target) {
    const map = kept.map, b = target.bounds;
    map.fitBounds([[b[1], b[0]], [b[3], b[2]]], { maxZoom: 15, animate: false, padding: [18, 18] });
    kept.fitted = { target, center: map.getCenter(), zoom: map.getZoom() };
  }

  // A view that nobody has moved yet is fitted anew when the frame takes its final size.
  function resized(map) {
    const f = kept.fitted;
    const untouched = f && f.zoom === map.getZoom() && map.distance(f.center, map.getCenter()) < 1;
    map.invalidateSize({ animate: false });
    if (kept.later) { look(kept.later); } else if (untouched) { fit(f.target); }
  }

  function keepView(map) {
    if (!kept.target) { return; }
    try {
      const c = map.getCenter();
      sessionStorage.setItem(KEPT_VIEW, JSON.stringify({ nonce: kept.target, center: [c.lat, c.lng], zoom: map.getZoom() }));
    } catch (error) { /* a browser without storage starts at the ground's edges again */ }
  }

  function keptView(nonce) {
    try {
      const view = JSON.parse(sessionStorage.getItem(KEPT_VIEW));
      return view && view.nonce === nonce ? view : null;
    } catch (error) { return null; }
  }

  function showTiles(map, tiles) {
    const wanted = new Set(tiles.map((t) => t.url));
    kept.tiles.forEach((layer, url) => { if (!wanted.has(url)) { layer.remove(); kept.tiles.delete(url); } });
    tiles.forEach((t) => {
      let layer = kept.tiles.get(t.url);
      if (!layer) {
        layer = L.tileLayer(t.url, {
          pane: t.pane, opacity: t.opacity, maxZoom: 20, maxNativeZoom: 17, bounds: [[t.bounds[1], t.bounds[0]], [t.bounds[3], t.bounds[2]]],
        }).addTo(map);
        kept.tiles.set(t.url, layer);
      }
      layer.setOpacity(t.opacity);
    });
  }

  function showViews(map, views) {
    const wanted = new Set(views.map((v) => v.url));
    kept.views.forEach((view, url) => {
      if (!wanted.has(url)) { view.stop && view.stop.abort(); view.layer.remove(); kept.views.delete(url); say("", url); }
    });
    views.forEach((v) => {
      if (kept.views.has(v.url)) {
        Object.assign(kept.views.get(v.url), { style: v.style, chosen: v.chosen }); kept.views.get(v.url).layer.setStyle((f) => styleOf(v, f));
        return;
      }
      const view = Object.assign({ stop: null, map }, v);
      view.layer = L.geoJSON(null, {
        interactive: false, pane: v.pane, renderer: rendererOf(map, v.pane), style: (f) => styleOf(view, f),
        pointToLayer: (f, at) => L.circleMarker(at, Object.assign({ interactive: false, pane: v.pane, renderer: rendererOf(map, v.pane) }, styleOf(view, f))),
      }).addTo(map);
      kept.views.set(v.url, view);
      refresh(view);
    });
  }

  const renderers = new Map();
  function rendererOf(map, pane) {
    if (!renderers.has(pane)) { renderers.set(pane, new PatternCanvas({ pane, tolerance: 6 })); }
    return renderers.get(pane);
  }

  function refresh(view) {
    const map = view.map;
    view.stop && view.stop.abort();
    if (map.getZoom() < view.from_zoom) {
      view.layer.clearLayers();
      say(view.title, view.url, true);
      return;
    }
    view.stop = new AbortController();
    const b = map.getBounds();
    const bbox = [b.getWest(), b.getSouth(), b.getEast(), b.getNorth()].map((n) => n.toFixed(6)).join(",");
    const address = view.url + (view.url.includes("?") ? "&" : "?") + "bbox=" + bbox + "&z=" + map.getZoom();
    fetch(address, { signal: view.stop.signal })
      .then((answer) => { if (!answer.ok) { throw new Error(answer.status); } return answer.json(); })
      .then((content) => {
        view.layer.clearLayers();
        view.layer.addData(content);
        say(content.left_out ? view.title + ": " + content.left_out + " of the smallest are not drawn at this distance" : "", view.url);
      })
      .catch((error) => { if (error.name !== "AbortError") { say(view.title + " could not be read", view.url); } });
  }

  const sayings = new Map();
  function say(words, from, far = false) {
    if (words) { sayings.set(from, { words, far }); } else { sayings.delete(from); }
    const told = Array.from(sayings.values());
    const [near, unseen] = [false, true].map((wanted) => told.filter((one) => one.far === wanted).map((one) => one.words));
    const named = unseen.map((title) => title.charAt(0).toLowerCase() + title.slice(1));
    if (named.length) { near.push("Come closer to see: " + named.join(", ")); }
    kept.say.textContent = near.join(" · ");
    kept.say.style.display = sayings.size ? "block" : "none";
  }

  function styleOf(view, feature) {
    const style = Object.assign({}, view.style);
    const own = feature.properties || {};
    if (view.pane === "fills") {
      style.fillColor = /^#[0-9A-Fa-f]{6}$/.test(own.colour) ? own.colour : style.fillColor;
      style.patternName = own.pattern || "blank";
    }
    if (own.site !== undefined && own.site === view.chosen) { style.weight = 3.4; style.color = css("--iron"); style.casing = css("--paper"); }
    return style;
  }

  // Each pane is one canvas and only the topmost would hear the pointer, so the map asks every layer itself.
  function speak(event) {
    const said = [];
    Array.from(kept.views.values()).reverse().forEach((view) => {
      if (said.length > 1 || !view.label.length) { return; }
      let words = "";
      view.layer.eachLayer((shape) => {
        if (words || !shape._containsPoint || !shape._pxBounds || !shape._pxBounds.contains(event.layerPoint)) { return; }
        if (shape._containsPoint(event.layerPoint)) { words = wordsOf(view, shape.feature); }
      });
      if (words) { said.push(words); }
    });
    kept.word.textContent = said.join("\n");
    kept.word.style.display = said.length ? "block" : "none";
    const at = event.containerPoint, size = kept.map.getSize();
    kept.word.style.left = Math.max(0, Math.min(at.x + 14, size.x - 270)) + "px";
    kept.word.style.top = Math.max(0, Math.min(at.y + 14, size.y - 90)) + "px";
  }

  function wordsOf(view, feature) {
    return view.label.map((name) => feature.properties[name]).filter((w) => w !== null && w !== undefined && w !== "").join("\n");
  }

  // A number is drawn where it covers no better one; the rest stay small dots until one comes closer.
  function showRanks(ranks) {
    kept.sites = ranks || [];
    kept.ranks.clearLayers();
    const taken = [];
    const chosenFirst = kept.sites.slice().sort((a, b) => (b.chosen - a.chosen) || (a.site - b.site));
    chosenFirst.forEach((r) => {
      const at = kept.map.project([r.lat, r.lon], kept.map.getZoom());
      const free = r.chosen || taken.every((other) => Math.abs(other.x - at.x) > 27 || Math.abs(other.y - at.y) > 27);
      if (free) { taken.push(at); }
      const face = document.createElement("div");
      face.className = free ? "cw-rank" + (r.chosen ? " chosen" : "") : "cw-dot";
      face.textContent = free ? String(r.site) : "";
      const icon = L.divIcon({ html: face, className: "", iconSize: free ? [26, 26] : [9, 9], iconAnchor: free ? [1, 26] : [4, 4] });
      L.marker([r.lat, r.lon], { icon, keyboard: false, interactive: false, alt: "Site " + r.site, zIndexOffset: r.chosen ? 1000 : free ? 500 - r.site : 0 }).addTo(kept.ranks);
    });
  }

  function unmarkSpot() { if (kept.spot) { kept.spot.remove(); kept.spot = null; } }

  function markSpot(latlng) {
    unmarkSpot();
    kept.spot = L.layerGroup([
      L.circleMarker(latlng, { pane: "spot", radius: 11, color: css("--paper"), weight: 5, fill: false, interactive: false }),
      L.circleMarker(latlng, { pane: "spot", radius: 11, color: css("--iron"), weight: 3, fill: false, interactive: false }),
      L.circleMarker(latlng, { pane: "spot", radius: 2, color: css("--iron"), weight: 2, fillOpacity: 1, interactive: false }),
    ]).addTo(kept.map);
  }

  // A mark may be drawn before the style sheet is there.
  const BEFORE_STYLES = { "--iron": "#9A3F1D", "--paper": "#F6F1E7" };
  function css(name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim() || BEFORE_STYLES[name] || ""; }

  function box(map, name) {
    const element = document.createElement("div");
    element.className = name;
    map.getContainer().appendChild(element);
    return element;
  }

  function northArrow(map) {
    const control = L.control({ position: "topright" });
    control.onAdd = () => {
      const element = document.createElement("div");
      element.className = "cw-north";
      element.setAttribute("role", "img");
      element.setAttribute("aria-label", "North is up");
      const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      svg.setAttribute("viewBox", "0 0 24 34"); svg.setAttribute("width", "22"); svg.setAttribute("height", "32");
      [["M12 2 L18 20 L12 16 Z", "currentColor"], ["M12 2 L6 20 L12 16 Z", "none"]].forEach(([d, fill]) => {
        const path = document.createElementNS(svg.namespaceURI, "path");
        path.setAttribute("d", d); path.setAttribute("fill", fill); path.setAttribute("stroke", "currentColor"); path.setAttribute("stroke-width", "1.2");
        svg.appendChild(path);
      });
      const letter = document.createElementNS(svg.namespaceURI, "text");
      letter.setAttribute("x", "12"); letter.setAttribute("y", "32"); letter.setAttribute("text-anchor", "middle"); letter.setAttribute("font-size", "11"); letter.setAttribute("fill", "currentColor");
      letter.textContent = "N";
      svg.appendChild(letter); element.appendChild(svg);
      return element;
    };
    control.addTo(map);
  }

  // ---- rock patterns: drawn once on a small canvas, then laid over the fill ----
  const strokes = {
    "blank": () => {},
    "dots": (c) => spots(c, [[4, 4], [13, 13]], 1.1),
    "close dots": (c) => spots(c, [[3, 3], [9, 3], [15, 3], [6, 9], [12, 9], [3, 15], [9, 15], [15, 15]], 0.9),
    "sparse dots": (c) => spots(c, [[5, 6]], 1.1),
    "rings": (c) => { ring(c, 5, 5, 3); ring(c, 13, 13, 2); },
    "crosses": (c) => { lines(c, [[1.5, 4.5, 7.5, 4.5], [4.5, 1.5, 4.5, 7.5], [10.5, 13.5, 16.5, 13.5], [13.5, 10.5, 13.5, 16.5]]); },
    "ticks": (c) => lines(c, [[3, 3, 6, 7], [6, 7, 9, 3], [12, 12, 14, 15], [14, 15, 17, 12]]),
    "flecks": (c) => { lines(c, [[3, 6, 7, 4], [12, 14, 15, 13]]); spots(c, [[13, 4], [5, 13]], 1); },
    "scales": (c) => { arc(c, 4.5, 6, 4); arc(c, 13.5, 15, 4); },
    "waves": (c) => { wave(c, 5); wave(c, 14); },
    "bricks": (c) => lines(c, [[0, 0, 18, 0], [0, 9, 18, 9], [4, 0, 4, 9], [13, 9, 13, 18]]),
    "dashes": (c) => lines(c, [[1, 4, 8, 4], [10, 13, 17, 13]]),
    "heavy dashes": (c) => { c.lineWidth = 2.4; lines(c, [[1, 4, 8, 4], [10, 13, 17, 13]]); },
    "fine lines": (c) => lines(c, [[0, 3, 18, 3], [0, 9, 18, 9], [0, 15, 18, 15]]),
    "diamonds": (c) => lines(c, [[5, 2, 8, 5], [8, 5, 5, 8], [5, 8, 2, 5], [2, 5, 5, 2]]),
    "triangles": (c) => lines(c, [[3, 7, 6, 2], [6, 2, 9, 7], [9, 7, 3, 7], [12, 16, 14, 12], [14, 12, 16, 16], [16, 16, 12, 16]]),
    "slants": (c) => lines(c, [[0, 9, 9, 0], [9, 18, 18, 9]]),
    "zigzags": (c) => lines(c, [[0, 6, 4.5, 2], [4.5, 2, 9, 6], [9, 6, 13.5, 2], [13.5, 2, 18, 6]]),
    "cross hatch": (c) => lines(c, [[0, 0, 18, 18], [18, 0, 0, 18]]),
  };
  function lines(c, all) { c.beginPath(); all.forEach(([a, b, d, e]) => { c.moveTo(a, b); c.lineTo(d, e); }); c.stroke(); }
  function spots(c, all, r) { all.forEach(([x, y]) => { c.beginPath(); c.arc(x, y, r, 0, 7); c.fill(); }); }
  function ring(c, x, y, r) { c.beginPath(); c.arc(x, y, r, 0, 7); c.stroke(); }
  function arc(c, x, y, r) { c.beginPath(); c.arc(x, y, r, Math.PI, 2 * Math.PI); c.stroke(); }
  function wave(c, y) { c.beginPath(); c.moveTo(0, y); c.bezierCurveTo(6, y - 5, 12, y + 5, 18, y); c.stroke(); }

  const patterns = new Map();
  function pattern(ctx, colour, name) {
    const key = colour + name;
    if (!patterns.has(key)) {
      const small = document.createElement("canvas");
      small.width = small.height = PATTERN_PX;
      const c = small.getContext("2d");
      c.fillStyle = colour; c.fillRect(0, 0, PATTERN_PX, PATTERN_PX);
      c.strokeStyle = c.fillStyle = "rgba(43,51,54,.55)"; c.lineWidth = 1;
      (strokes[name] || strokes.blank)(c);
      patterns.set(key, ctx.createPattern(small, "repeat"));
    }
    return patterns.get(key);
  }

  const PatternCanvas = L.Canvas.extend({
    _fillStroke: function (ctx, layer) {
      const o = layer.options;
      if (o.fill && o.patternName) {
        ctx.globalAlpha = o.fillOpacity; ctx.fillStyle = pattern(ctx, o.fillColor, o.patternName);
        ctx.fill(o.fillRule || "evenodd");
        if (o.stroke && o.weight) { ctx.globalAlpha = o.opacity; ctx.lineWidth = o.weight; ctx.strokeStyle = o.color; ctx.stroke(); }
        return;
      }
      if (o.casing && o.stroke) {
        ctx.globalAlpha = 0.8; ctx.lineWidth = o.weight + 2.4; ctx.strokeStyle = o.casing; ctx.lineJoin = "round"; ctx.stroke();
      }
      L.Canvas.prototype._fillStroke.call(this, ctx, layer);
    },
  });

  window.claywalk = { start, show };
})();

(function () {
  "use strict";
  var data = JSON.parse(document.getElementById("ground").textContent);
  var byId = function (id) { return document.getElementById(id); };
  var calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  var colour = function (name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim(); };

  function element(tag, text, className) {
    var made = document.createElement(tag);
    if (text !== undefined) { made.textContent = text; }
    if (className) { made.className = className; }
    return made;
  }
  function bounds(corners) {
    return L.latLngBounds([corners[0], corners[1]], [corners[2], corners[3]]);
  }

  // ---- the sheet ----
  var whole = bounds(data.corners);
  var map = L.map("map", {
    attributionControl: false, zoomSnap: 0.25, zoomDelta: 0.5, wheelPxPerZoomLevel: 120, maxZoom: 19,
    maxBounds: whole.pad(0.6), maxBoundsViscosity: 0.7, zoomAnimation: !calm, fadeAnimation: !calm
  });
  function wholeView() {
    map.setMinZoom(0);
    map.fitBounds(whole, { padding: [4, 4], animate: false });
    map.setMinZoom(Math.max(0, map.getZoom() - 1));
  }
  wholeView();
  ["colours", "relief", "hatch", "lines"].forEach(function (name, order) {
    map.createPane(name).style.zIndex = 300 + 20 * order;
    map.getPane(name).style.pointerEvents = "none";
  });
  L.rectangle(whole, {
    pane: "lines", interactive: false, fill: false, color: colour("--faded"), weight: 1, dashArray: "2 5"
  }).addTo(map);
  L.control.scale({ position: "bottomleft", metric: true, imperial: data.units === "us", maxWidth: 130 }).addTo(map);
  var north = L.control({ position: "topright" });
  north.onAdd = function () { return byId("north").content.firstElementChild.cloneNode(true); };
  north.addTo(map);

  // ---- pictures, and reading a value back out of one ----
  function overlay(picture, pane, opacity) {
    return L.imageOverlay(picture.uri, bounds(picture.corners), {
      pane: pane, opacity: opacity, interactive: false, className: "sheet", alt: ""
    });
  }
  function reader(picture, whenReady) {
    var self = { width: 0, height: 0, at: function () { return -1; } };
    var image = new Image();
    image.onload = function () {
      var canvas = document.createElement("canvas");
      self.width = canvas.width = image.naturalWidth;
      self.height = canvas.height = image.naturalHeight;
      var pen = canvas.getContext("2d", { willReadFrequently: true });
      pen.drawImage(image, 0, 0);
      var pixels = pen.getImageData(0, 0, canvas.width, canvas.height).data;
      var known = new Map(picture.colours.map(function (c, k) { return [c[0] * 65536 + c[1] * 256 + c[2], k]; }));
      self.at = function (column, row) {
        if (column < 0 || row < 0 || column >= self.width || row >= self.height) { return -1; }
        var p = 4 * (row * self.width + column);
        if (pixels[p + 3] < 128) { return -1; }
        var k = known.get(pixels[p] * 65536 + pixels[p + 1] * 256 + pixels[p + 2]);
        return k === undefined ? -1 : k;
      };
      if (whenReady) { whenReady(); }
    };
    image.src = picture.uri;
    var box = bounds(picture.corners);
    var nw = L.CRS.EPSG3857.project(box.getNorthWest()), se = L.CRS.EPSG3857.project(box.getSouthEast());
    self.place = function (point) {
      return [
        Math.floor((point.x - nw.x) / (se.x - nw.x) * self.width),
        Math.floor((nw.y - point.y) / (nw.y - se.y) * self.height)
      ];
    };
    self.valueAt = function (latlng) {
      var spot = self.place(L.CRS.EPSG3857.project(latlng));
      var k = self.at(spot[0], spot[1]);
      return k < 0 ? null : picture.values[k];
    };
    return self;
  }

  var sheets = data.pictures.favourability.map(function (item) {
    return { key: item.key, title: item.title, layer: overlay(item.picture, "colours", 0.88), read: reader(item.picture) };
  });
  var shown = null;
  function show(key) {
    sheets.forEach(function (sheet) {
      if (sheet.key === key) { shown = sheet; sheet.layer.addTo(map); } else { sheet.layer.remove(); }
    });
  }
  show(sheets[0].key);
  byId("looking-for").addEventListener("change", function (event) { show(event.target.value); });

  // ---- how much we know: strokes of a steady width at every zoom ----
  var completeness = null;
  function hatch(picture) {
    var layer = new (L.GridLayer.extend({
      createTile: function (coords) {
        var side = 256, tile = document.createElement("canvas");
        tile.width = tile.height = side;
        var pen = tile.getContext("2d");
        pen.fillStyle = "rgba(43,51,54,0.48)";
        var origin = coords.scaleBy(L.point(side, side));
        var corner = function (dx, dy) {
          return L.CRS.EPSG3857.project(map.unproject(origin.add([dx, dy]), coords.z));
        };
        var a = completeness.place(corner(0, 0)), step = 1 / side, first = corner(0, 0), last = corner(side, side);
        if (!completeness.width || !a) { return tile; }
        for (var y = 0; y < side; y += 1) {
          for (var x = 0; x < side; x += 1) {
            var phase = (x + y) % 8;
            if (phase !== 0 && phase !== 4 && phase !== 2) { continue; }
            var spot = completeness.place({
              x: first.x + (last.x - first.x) * (x + 0.5) * step,
              y: first.y + (last.y - first.y) * (y + 0.5) * step
            });
            var strokes = completeness.at(spot[0], spot[1]);
            if (strokes >= (phase === 0 ? 1 : phase === 4 ? 2 : 3)) { pen.fillRect(x, y, 1.3, 1.3); }
          }
        }
        return tile;
      }
    }))({ pane: "hatch", keepBuffer: 1, updateWhenZooming: false });
    completeness = reader(picture, function () { layer.redraw(); });
    return layer;
  }

  // ---- lines, places and numbers ----
  var layers = {};
  if (data.pictures.relief) { layers.relief = overlay(data.pictures.relief, "relief", 1); }
  if (data.pictures.completeness) { layers.known = hatch(data.pictures.completeness); }
  if (data.parcels) {
    layers.parcels = L.geoJSON(data.parcels, {
      pane: "lines", interactive: false,
      style: { color: colour("--sheet-ink"), weight: 1, opacity: 0.65, dashArray: "5 3", fill: false }
    });
  }
  var outlineOf = {};
  layers.sites = L.layerGroup();
  data.outlines.features.forEach(function (feature) {
    var rank = feature.properties.site;
    var casing = L.geoJSON(feature, { pane: "lines", interactive: false, style: { color: "#FFFDF8", weight: 4.5, opacity: 0.85, fill: false } });
    var line = L.geoJSON(feature, { pane: "lines", interactive: false, style: { color: data.iron, weight: 2, fill: false } });
    outlineOf[rank] = line;
    layers.sites.addLayer(casing).addLayer(line);
  });
  var markers = {};
  data.sites.forEach(function (site) {
    var badge = element("span", String(site.site), "number");
    var marker = L.marker([site.lat, site.lon], {
      icon: L.divIcon({ html: badge, className: "badge", iconSize: [30, 30], iconAnchor: [15, 15] }),
      title: "Site " + site.site + ": " + site.title, alt: "Site " + site.site, riseOnHover: true,
      zIndexOffset: 1000 - site.site
    });
    marker.bindPopup(function () { return siteBox(site); }, { maxWidth: 250, minWidth: 200, autoPanPaddingTopLeft: [58, 10], autoPanPaddingBottomRight: [52, 10] });
    markers[site.site] = marker;
    layers.sites.addLayer(marker);
  });
  function siteBox(site) {
    var box = element("div", undefined, "box");
    box.appendChild(element("strong", site.site + ". " + site.title));
    box.appendChild(element("p", site.worth));
    if (site.reason) { box.appendChild(element("p", site.reason, "reason")); }
    var button = element("button", "Read why", "plain");
    button.type = "button";
    button.addEventListener("click", function () {
      var item = byId("site-" + site.site), why = item.querySelector("details");
      if (why) { why.open = true; }
      item.scrollIntoView({ behavior: calm ? "auto" : "smooth", block: "start" });
      item.focus({ preventScroll: true });
    });
    box.appendChild(button);
    return box;
  }
  if (data.samples.length) {
    layers.samples = L.layerGroup(data.samples.map(function (sample) {
      var mark = { yes: "●", no: "✕", unknown: "○" }[sample.usable];
      return L.marker([sample.lat, sample.lon], {
        icon: L.divIcon({ html: element("span", mark, "sample " + sample.usable), className: "spot", iconSize: [22, 22] }),
        title: "Sample " + sample.name, alt: "Sample " + sample.name
      }).bindPopup(function () {
        var box = element("div", undefined, "box");
        box.appendChild(element("strong", "Sample " + sample.name));
        sample.lines.forEach(function (line) { box.appendChild(element("p", line)); });
        return box;
      });
    }));
  }

  // ---- seen from afar: smaller numbers, fainter lines ----
  function distance() {
    var far = map.getZoom() < map.getMinZoom() + 2.2;
    byId("map").classList.toggle("far", far);
    if (layers.parcels) { layers.parcels.setStyle({ opacity: far ? 0.3 : 0.65, dashArray: far ? null : "5 3" }); }
  }
  map.on("zoomend", distance);
  distance();

  // ---- what to show ----
  document.querySelectorAll("input[data-layer]").forEach(function (box) {
    var layer = layers[box.dataset.layer];
    if (!layer) { return; }
    var follow = function () { if (box.checked) { layer.addTo(map); } else { layer.remove(); } };
    box.addEventListener("change", follow);
    follow();
  });

  // ---- one tap answers: how good, for what, how much is known, whose ----
  function inRing(x, y, ring) {
    var inside = false;
    for (var i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
      var a = ring[i], b = ring[j];
      if ((a[1] > y) !== (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]) { inside = !inside; }
    }
    return inside;
  }
  function covers(geometry, latlng) {
    var parts = geometry.type === "Polygon" ? [geometry.coordinates] : geometry.type === "MultiPolygon" ? geometry.coordinates : [];
    return parts.some(function (rings) {
      return rings.reduce(function (odd, ring) { return odd !== inRing(latlng.lng, latlng.lat, ring); }, false);
    });
  }
  function worth(value) {
    for (var k = 0; k < data.worth.length; k += 1) { if (value >= data.worth[k][0]) { return data.worth[k][1]; } }
    return data.worth[data.worth.length - 1][1];
  }
  map.on("click", function (event) {
    var box = element("div", undefined, "box"), value = shown.read.valueAt(event.latlng);
    box.appendChild(element("strong", value === null ? "Cannot say" : worth(value).charAt(0).toUpperCase() + worth(value).slice(1)));
    var readings = sheets.slice(1).map(function (sheet) {
      return { title: sheet.title, value: sheet.read.valueAt(event.latlng) };
    }).filter(function (reading) { return reading.value !== null; });
    readings.sort(function (a, b) { return b.value - a.value; });
    if (readings.length) {
      var list = element("ul", undefined, "readings");
      readings.slice(0, 4).forEach(function (reading) {
        var line = element("li", reading.title);
        line.appendChild(element("span", "about " + reading.value.toFixed(2)));
        list.appendChild(line);
      });
      box.appendChild(list);
    } else {
      box.appendChild(element("p", value === null ? "Too little is known here." : "About " + value.toFixed(2) + "."));
    }
    var known = completeness ? completeness.valueAt(event.latlng) : null;
    if (known !== null) { box.appendChild(element("p", data.known[known])); }
    if (data.parcels) {
      data.parcels.features.filter(function (f) { return covers(f.geometry, event.latlng); }).slice(0, 4).forEach(function (f) {
        box.appendChild(element("p", "Parcel " + f.properties.parcel_id + (f.properties.owner ? ", " + f.properties.owner : "")));
      });
    }
    if (data.exact) {
      box.appendChild(element("p", event.latlng.lng.toFixed(5) + ", " + event.latlng.lat.toFixed(5), "place"));
    }
    L.popup({ maxWidth: 250, autoPanPaddingTopLeft: [58, 10], autoPanPaddingBottomRight: [52, 10] }).setLatLng(event.latlng).setContent(box).openOn(map);
  });

  // ---- from the list to the map ----
  document.querySelectorAll("button[data-site]").forEach(function (button) {
    button.addEventListener("click", function () {
      var rank = Number(button.dataset.site), line = outlineOf[rank], marker = markers[rank];
      var box = byId("show-sites");
      if (!box.checked) { box.checked = true; layers.sites.addTo(map); }
      if (byId("map").getBoundingClientRect().bottom < 160 || window.innerWidth < 820) {
        byId("map").scrollIntoView({ behavior: calm ? "auto" : "smooth", block: "start" });
      }
      var target = line ? line.getBounds().extend(marker.getLatLng()).pad(0.7) : marker.getLatLng().toBounds(600);
      touched = true;
      map.fitBounds(target, { maxZoom: 16, animate: !calm, paddingTopLeft: [10, 150] });
      marker.openPopup();
    });
  });

  // ---- where I stand: asked for by a tap, kept in this page ----
  var here = L.layerGroup().addTo(map), say = byId("here-says");
  if (navigator.geolocation) {
    byId("here").hidden = false;
    byId("here").addEventListener("click", function () {
      say.textContent = "Looking for your place …";
      map.locate({ enableHighAccuracy: true, timeout: 20000, maximumAge: 5000 });
    });
    map.on("locationfound", function (found) {
      here.clearLayers();
      L.circle(found.latlng, { radius: found.accuracy, color: data.glaze, weight: 2, fillOpacity: 0.12, interactive: false }).addTo(here);
      L.circleMarker(found.latlng, { radius: 5, color: "#FFFDF8", weight: 2, fillColor: data.glaze, fillOpacity: 1, interactive: false }).addTo(here);
      var inside = whole.contains(found.latlng);
      say.textContent = "You are " + (inside ? "here" : "outside this map") + ", give or take " + Math.round(found.accuracy) + " m.";
      if (inside) { map.setView(found.latlng, Math.max(map.getZoom(), 15), { animate: !calm }); }
    });
    map.on("locationerror", function () {
      say.textContent = "Your browser will not say where you are for a page opened from a file.";
    });
  }

  // ---- light and dark ----
  byId("theme").addEventListener("click", function () {
    var root = document.documentElement;
    var dark = root.dataset.theme ? root.dataset.theme === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
    root.dataset.theme = dark ? "light" : "dark";
  });
  var touched = false;
  ["pointerdown", "wheel", "keydown"].forEach(function (kind) {
    byId("map").addEventListener(kind, function () { touched = true; }, { passive: true });
  });
  new ResizeObserver(function () {
    map.invalidateSize({ pan: false });
    if (!touched) { wholeView(); }
  }).observe(byId("map"));
  document.documentElement.dataset.ready = "yes";
}());

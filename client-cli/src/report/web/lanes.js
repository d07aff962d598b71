// The lanes: what happened as signs, what stood as bars, one cursor.
var lanesBox = document.getElementById("lanes");
var SVG = "http://www.w3.org/2000/svg";
var LANE = 32;
var AXIS = 24;
var RIGHT = 22;
var CELL = 15;

// Events from the list, which is the one place where they stand.
var items = Array.prototype.map.call(document.querySelectorAll("#events tr[data-t]"), function (row) {
  return {
    row: row,
    tick: Number(row.dataset.t),
    lane: row.dataset.l === undefined ? -1 : Number(row.dataset.l),
    sign: Number(row.dataset.g),
    matters: row.dataset.m !== undefined,
    seq: row.id.slice(1),
    who: row.cells[3].textContent,
    text: row.cells[4].textContent
  };
}).sort(function (one, other) { return one.tick - other.tick || one.seq - other.seq; });

function gutter() {
  return lanesBox.clientWidth < 560 ? 76 : 92;
}

function element(name, attributes, text) {
  var made = document.createElementNS(SVG, name);
  Object.keys(attributes).forEach(function (key) { made.setAttribute(key, attributes[key]); });
  if (text !== undefined) {
    made.textContent = text;
  }
  return made;
}

function xOf(tick, from, to, width) {
  var left = gutter();
  return left + (tick - from) / (to - from) * (width - left - RIGHT);
}

function tickAt(x, from, to, width) {
  var left = gutter();
  return from + (x - left) / Math.max(width - left - RIGHT, 1) * (to - from);
}

function laneX(tick) {
  return xOf(tick, state.from, state.to, lanesBox.clientWidth);
}

function inWindow(tick) {
  return tick >= state.from && tick <= state.to;
}

function drawStages(svg, height) {
  data.stages.forEach(function (stage, at) {
    if (stage[1] < state.from || stage[0] > state.to) {
      return;
    }
    var left = laneX(Math.max(stage[0], state.from));
    var right = laneX(Math.min(stage[1], state.to));
    var group = element("g", {});
    group.appendChild(element("title", {}, at + 1 + ". " + stage[2]));
    var box = { x: left, y: AXIS, width: Math.max(right - left, 1), height: height - AXIS };
    box["class"] = at % 2 ? "stage odd" : "stage";
    group.appendChild(element("rect", box));
    if (right - left > 14) {
      group.appendChild(element("text", { x: (left + right) / 2, y: AXIS + 13, "class": "stage-number" }, at + 1));
    }
    svg.appendChild(group);
  });
}

function drawTimes(svg, height) {
  var width = lanesBox.clientWidth - gutter() - RIGHT;
  roundTimes(state.from, state.to, width).forEach(function (tick) {
    var x = laneX(tick);
    svg.appendChild(element("line", { x1: x, x2: x, y1: AXIS - 5, y2: height, "class": "grid" }));
    var anchor = x > lanesBox.clientWidth - 24 ? "end" : "middle";
    svg.appendChild(element("text", { x: x, y: AXIS - 9, "class": "time", "text-anchor": anchor }, shortClock(tick)));
  });
}

function drawBars(svg, places) {
  data.bars.forEach(function (bar) {
    var y = places[bar[0]];
    if (y === undefined || bar[3] < state.from || bar[2] > state.to) {
      return;
    }
    var sign = data.signs[bar[1]];
    var sort = sign[1].replace(/ .*/, "");
    // Each sort on a line of its own, so that none hides another.
    y += { caution: 13, warning: 10 }[sort] || 7;
    var line = {
      x1: laneX(Math.max(bar[2], state.from)), x2: laneX(Math.min(bar[3], state.to)), y1: y, y2: y,
      "class": "bar ink-" + sign[2] + " of-" + sort
    };
    var drawn = element("line", line);
    drawn.appendChild(element("title", {}, sign[1] + ", " + clock(bar[2]) + " to " + clock(bar[3])));
    svg.appendChild(drawn);
  });
}

// Of what falls together, the most telling is shown, as on the facilitator's screen.
function drawSigns(svg, places) {
  var open = {};
  items.forEach(function (item) {
    if (places[item.lane] === undefined || !inWindow(item.tick)) {
      return;
    }
    var x = laneX(item.tick);
    var cell = open[item.lane];
    if (cell && x - cell.x < CELL) {
      cell.all.push(item);
      cell.best = item.sign < cell.best.sign ? item : cell.best;
      return;
    }
    if (cell) {
      drawSign(svg, cell, places);
    }
    open[item.lane] = { x: x, best: item, all: [item] };
  });
  Object.keys(open).forEach(function (lane) { drawSign(svg, open[lane], places); });
}

function drawSign(svg, cell, places) {
  var sign = data.signs[cell.best.sign];
  var drawn = element("text", { x: cell.x, y: places[cell.best.lane] + 2, "class": "sign ink-" + sign[2] }, sign[0]);
  var lines = cell.all.slice(0, 6).map(function (item) { return clock(item.tick) + " " + item.who + ": " + item.text; });
  if (cell.all.length > 6) {
    lines.push("and " + (cell.all.length - 6) + " more");
  }
  drawn.appendChild(element("title", {}, lines.join("\n")));
  svg.appendChild(drawn);
}

var cursorLine = element("line", { "class": "cursor" });
var cursorHead = element("path", { "class": "cursor-head" });
var brush = element("rect", { "class": "brush", y: AXIS, width: 0 });

function drawLanes() {
  var top = AXIS + (state.group === "objective" ? 16 : 4);
  var places = {};
  state.lanes.forEach(function (lane, row) { places[lane] = top + LANE * row + LANE / 2; });
  var height = top + LANE * state.lanes.length + 4;
  var width = lanesBox.clientWidth;
  var svg = element("svg", { width: width, height: height, viewBox: "0 0 " + width + " " + height, "aria-hidden": "true" });
  if (state.group === "objective") {
    drawStages(svg, height);
  }
  drawTimes(svg, height);
  state.lanes.forEach(function (lane) {
    var y = places[lane];
    svg.appendChild(element("line", { x1: 0, x2: width, y1: y + LANE / 2, y2: y + LANE / 2, "class": "lane" }));
    svg.appendChild(element("text", { x: 0, y: y + 4, "class": "lane-name" }, data.lanes[lane]));
  });
  drawBars(svg, places);
  drawSigns(svg, places);
  brush.setAttribute("height", height - AXIS);
  cursorLine.setAttribute("y1", AXIS - 4);
  cursorLine.setAttribute("y2", height);
  [brush, cursorLine, cursorHead].forEach(function (part) { svg.appendChild(part); });
  lanesBox.replaceChildren(svg);
  drawCursor();
}

function drawCursor() {
  var x = laneX(state.cursor);
  var seen = inWindow(state.cursor) ? "" : "none";
  cursorLine.setAttribute("x1", x);
  cursorLine.setAttribute("x2", x);
  cursorHead.setAttribute("d", "M" + (x - 6) + " " + (AXIS - 8) + "h12l-6 8z");
  [cursorLine, cursorHead].forEach(function (part) { part.style.display = seen; });
}

// A click puts the cursor, a drag chooses what is shown.
function brushable(box, toTick, show) {
  var from = null;
  var wide = false;
  box.addEventListener("pointerdown", function (event) {
    if (event.button === 0) {
      from = event.clientX;
      wide = false;
      box.setPointerCapture(event.pointerId);
    }
  });
  box.addEventListener("pointermove", function (event) {
    if (from !== null) {
      wide = wide || Math.abs(event.clientX - from) > 5;
      if (wide) {
        show(from, event.clientX);
      }
    }
  });
  box.addEventListener("pointercancel", function () {
    from = null;
    show(0, 0);
  });
  box.addEventListener("pointerup", function (event) {
    if (from === null) {
      return;
    }
    var ends = [toTick(from), toTick(event.clientX)].sort(function (one, other) { return one - other; });
    from = null;
    show(0, 0);
    if (wide) {
      set({ from: Math.max(ends[0], 0), to: Math.min(ends[1], last) });
    } else {
      set({ cursor: ends[0] });
    }
  });
}

function laneTick(clientX) {
  return tickAt(clientX - lanesBox.getBoundingClientRect().left, state.from, state.to, lanesBox.clientWidth);
}

brushable(lanesBox, laneTick, function (one, other) {
  var left = lanesBox.getBoundingClientRect().left;
  brush.setAttribute("x", Math.max(Math.min(one, other) - left, gutter()));
  brush.setAttribute("width", Math.abs(other - one));
});

// Courses of readings, drawn by uPlot: below the lanes, and with each moment.
var coursesBox = document.getElementById("courses");
var panels = [];

function ink(name) {
  return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
}

// Ticks and values as they were before they were made short.
function unpack(course) {
  var scale = Math.pow(10, course.decimals);
  (course.x ? [] : [course].concat(course.beside || [])).forEach(function (line) {
    var tick = 0;
    line.x = line.t.map(function (step) { return tick += step; });
    line.y = line.v.map(function (value) { return value / scale; });
  });
  return course;
}

// How the line of each reference is broken: the pattern tells them apart, not the colour.
var BROKEN = { "expert": [7, 3], "idle crew": [2, 3] };

// The references that are shown with a course, each with its number.
function besideOf(course) {
  return (course.beside || []).map(function (line, at) { return { at: at, line: line }; }).filter(function (one) {
    return state.references.indexOf(one.at) >= 0 && one.line.x.length > 0;
  });
}

function said(course, value) {
  return value.toFixed(course.decimals) + (course.unit ? " " + course.unit : "");
}

// The value that stood at a tick: between two points it lies on the line that is drawn.
function valueAt(course, tick) {
  var low = 0;
  var high = course.x.length - 1;
  if (high < 0 || tick < course.x[0]) {
    return null;
  }
  while (low < high) {
    var middle = (low + high + 1) >> 1;
    if (course.x[middle] <= tick) { low = middle; } else { high = middle - 1; }
  }
  var after = low + 1;
  if (after >= course.x.length) {
    return course.y[low];
  }
  var share = (tick - course.x[low]) / (course.x[after] - course.x[low]);
  return course.y[low] + (course.y[after] - course.y[low]) * share;
}

function rangeOf(course, from, to) {
  var low = Infinity;
  var high = -Infinity;
  [course].concat(besideOf(course).map(function (one) { return one.line; })).forEach(function (line) {
    [from, to].forEach(function (tick) {
      var value = valueAt(line, tick);
      if (value !== null) { low = Math.min(low, value); high = Math.max(high, value); }
    });
    for (var at = 0; at < line.x.length; at += 1) {
      if (line.x[at] >= from && line.x[at] <= to) {
        low = Math.min(low, line.y[at]);
        high = Math.max(high, line.y[at]);
      }
    }
  });
  if (course.limit !== null) {
    low = Math.min(low, course.limit);
    high = Math.max(high, course.limit);
  }
  if (low > high) { low = 0; high = 1; }
  var least = Math.pow(10, -course.decimals) * 2;
  var margin = Math.max((high - low) * 0.08, least);
  return [low - margin, high + margin];
}

function acrossLine(plot, y, colour, dash, text) {
  var draw = plot.ctx;
  var ratio = devicePixelRatio;
  draw.save();
  draw.strokeStyle = draw.fillStyle = colour;
  draw.lineWidth = ratio;
  draw.setLineDash(dash.map(function (length) { return length * ratio; }));
  draw.beginPath();
  draw.moveTo(plot.bbox.left, y);
  draw.lineTo(plot.bbox.left + plot.bbox.width, y);
  draw.stroke();
  draw.font = 11 * ratio + "px system-ui, sans-serif";
  draw.textAlign = "left";
  draw.textBaseline = y - plot.bbox.top < 16 * ratio ? "top" : "bottom";
  draw.fillText(text, plot.bbox.left + 4 * ratio, y + (draw.textBaseline === "top" ? 2 : -2) * ratio);
  draw.restore();
}

// `windowOf`: what is shown; `at`: a tick that is marked, or null.
function Panel(box, course, windowOf, at) {
  unpack(course);
  this.course = course;
  this.windowOf = windowOf;
  this.at = at;
  this.box = document.createElement("div");
  this.box.className = "course";
  this.name = document.createElement("p");
  this.name.className = "course-name";
  this.box.appendChild(this.name);
  box.appendChild(this.box);
  this.draw();
}

Panel.prototype.draw = function () {
  var panel = this;
  var course = this.course;
  if (this.plot) {
    this.plot.destroy();
  }
  var axis = { stroke: ink("faint"), grid: { stroke: ink("rule"), width: 1 }, ticks: { stroke: ink("rule"), width: 1, size: 4 }, font: "12px system-ui, sans-serif" };
  var along = Object.assign({}, axis, {
    size: 26, gap: 3,
    splits: function (plot) { return roundTimes(plot.scales.x.min, plot.scales.x.max, plot.bbox.width / devicePixelRatio); },
    values: function (_, splits) { return splits.map(shortClock); }
  });
  var up = Object.assign({}, axis, { size: gutter(), gap: 5, space: 28 });
  this.plot = new uPlot({
    width: this.width(), height: 132, legend: { show: false }, cursor: { show: false }, padding: [6, RIGHT, 0, 0],
    scales: {
      x: { time: false, range: function () { return panel.windowOf(); } },
      y: { range: function () { var shown = panel.windowOf(); return rangeOf(course, shown[0], shown[1]); } }
    },
    axes: [along, up],
    series: [{}, { stroke: ink(course.medium || "ink"), width: 1.75, points: { show: false } }],
    hooks: { draw: [function (plot) { panel.beside(plot); panel.marks(plot); }] }
  }, [course.x, course.y], this.box);
  this.line = document.createElement("div");
  this.line.className = "cursor-line";
  this.select = document.createElement("div");
  this.select.className = "brush-box";
  this.plot.over.append(this.select, this.line);
  this.plot.root.setAttribute("aria-hidden", "true");
  this.listen();
  this.cursor();
};

Panel.prototype.width = function () {
  return Math.max(this.box.clientWidth || lanesBox.clientWidth, 200);
};

// The references, thin and broken, no further than the axes.
Panel.prototype.beside = function (plot) {
  var draw = plot.ctx;
  var ratio = devicePixelRatio;
  besideOf(this.course).forEach(function (one) {
    draw.save();
    draw.beginPath();
    draw.rect(plot.bbox.left, plot.bbox.top, plot.bbox.width, plot.bbox.height);
    draw.clip();
    draw.strokeStyle = ink("ink");
    draw.lineWidth = ratio;
    draw.setLineDash(BROKEN[data.references[one.at]].map(function (length) { return length * ratio; }));
    draw.beginPath();
    one.line.x.forEach(function (tick, at) {
      draw.lineTo(plot.valToPos(tick, "x", true), plot.valToPos(one.line.y[at], "y", true));
    });
    draw.stroke();
    draw.restore();
  });
};

// A piece of the line as it is drawn, its name, and where it stood.
function legendOf(course, one, tick) {
  var box = document.createElement("span");
  box.className = "reference";
  var sample = element("svg", { width: 28, height: 8, "aria-hidden": "true" });
  sample.appendChild(element("line", { x1: 0, x2: 28, y1: 4, y2: 4, "stroke-dasharray": BROKEN[data.references[one.at]].join(" ") }));
  var stood = "";
  if (tick !== null) {
    var over = tick > one.line.x[one.line.x.length - 1];
    stood = over ? " was over" : " " + said(course, valueAt(one.line, tick));
  }
  box.append(sample, " " + data.references[one.at] + stood);
  return box;
}

Panel.prototype.marks = function (plot) {
  var course = this.course;
  if (course.limit !== null) {
    acrossLine(plot, plot.valToPos(course.limit, "y", true), ink("alarm"), [6, 4], "limit " + said(course, course.limit));
  }
  if (this.at !== null) {
    var x = plot.valToPos(this.at, "x", true);
    var draw = plot.ctx;
    draw.save();
    draw.strokeStyle = ink("ink");
    draw.lineWidth = devicePixelRatio;
    draw.setLineDash([2 * devicePixelRatio, 3 * devicePixelRatio]);
    draw.beginPath();
    draw.moveTo(x, plot.bbox.top);
    draw.lineTo(x, plot.bbox.top + plot.bbox.height);
    draw.stroke();
    draw.restore();
  }
};

Panel.prototype.listen = function () {
  var panel = this;
  var over = this.plot.over;
  function tick(clientX) {
    var shown = panel.windowOf();
    return shown[0] + (clientX - over.getBoundingClientRect().left) / Math.max(over.clientWidth, 1) * (shown[1] - shown[0]);
  }
  if (this.at !== null) {
    over.addEventListener("click", function (event) { goTo(tick(event.clientX)); });
    return;
  }
  brushable(over, tick, function (one, other) {
    panel.select.style.left = Math.min(one, other) - over.getBoundingClientRect().left + "px";
    panel.select.style.width = Math.abs(other - one) + "px";
  });
};

// Where the cursor is, and what stood there.
Panel.prototype.cursor = function () {
  var shown = this.windowOf();
  // At its start a run shows no cursor where nobody has put it.
  var put = this.at === null || state.cursor !== 0;
  var inside = put && state.cursor >= shown[0] && state.cursor <= shown[1];
  var share = (state.cursor - shown[0]) / (shown[1] - shown[0]);
  this.line.style.display = inside ? "" : "none";
  this.line.style.left = share * 100 + "%";
  var ticks = this.at === null ? [] : [this.at];
  if (inside && state.cursor !== this.at) {
    ticks.push(state.cursor);
  }
  var course = this.course;
  var strong = document.createElement("strong");
  strong.textContent = ticks.map(function (tick) {
    var value = valueAt(course, tick);
    return value === null ? "" : said(course, value) + " at " + clock(tick);
  }).filter(Boolean).join(", ");
  this.name.replaceChildren(course.name + " ", strong);
  var tick = inside ? state.cursor : null;
  besideOf(course).forEach(function (one) { this.name.append(" ", legendOf(course, one, tick)); }, this);
};

Panel.prototype.window = function () {
  var shown = this.windowOf();
  this.plot.setScale("x", { min: shown[0], max: shown[1] });
  this.cursor();
};

Panel.prototype.drop = function () {
  this.plot.destroy();
  this.box.remove();
};

var ofMoments = [];

function drawMoments() {
  Array.prototype.forEach.call(document.querySelectorAll("[data-moment]"), function (box) {
    var moment = data.moments[Number(box.dataset.moment)];
    moment.courses.forEach(function (course) {
      ofMoments.push(new Panel(box, course, function () { return [moment.from, Math.max(moment.to, moment.from + 1)]; }, moment.at));
    });
  });
}

function drawCourses() {
  panels.forEach(function (panel) { panel.drop(); });
  panels = state.courses.map(function (at) {
    return new Panel(coursesBox, data.courses[at], function () { return [state.from, state.to]; }, null);
  });
}

function everyPanel(does) {
  panels.concat(ofMoments).forEach(does);
}

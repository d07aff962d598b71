// What is shown, and its way into the address and back. Times are ticks; the address has minutes and seconds.
var data = JSON.parse(document.getElementById("run-data").textContent);
var last = Math.max(data.last, 1);
var SHOWN_AT_FIRST = 3;
// Less than a second is never shown.
var CLOSEST = data.perSecond;

function first(count) {
  return data.courses.map(function (_, at) { return at; }).slice(0, count);
}

function allLanes() {
  return data.lanes.map(function (_, at) { return at; });
}

function allReferences() {
  return data.references.map(function (_, at) { return at; });
}

function asOpened() {
  return { references: allReferences(), cursor: 0, from: 0, to: last, lanes: allLanes(), courses: first(SHOWN_AT_FIRST), group: "objective" };
}

var state = asOpened();
var listeners = [];

// Changes some of it, and tells everyone what.
function set(changes) {
  if ("from" in changes || "to" in changes) {
    var from = "from" in changes ? changes.from : state.from;
    var to = "to" in changes ? changes.to : state.to;
    var span = Math.min(Math.max(Math.round(to - from), CLOSEST), last);
    from = Math.min(Math.max(Math.round(from), 0), last - span);
    changes.from = from;
    changes.to = from + span;
  }
  if ("cursor" in changes) {
    changes.cursor = Math.min(Math.max(Math.round(changes.cursor), 0), last);
  }
  Object.keys(changes).forEach(function (key) { state[key] = changes[key]; });
  listeners.forEach(function (listener) { listener(changes); });
  remember();
}

// Puts the cursor somewhere, and what is shown with it.
function goTo(tick) {
  var changes = { cursor: tick };
  var span = state.to - state.from;
  if (tick < state.from || tick > state.to) {
    changes.from = tick - span / 2;
    changes.to = changes.from + span;
  }
  set(changes);
}

// Closer (less than one) or wider about the cursor.
function zoom(factor) {
  var span = Math.min(Math.max((state.to - state.from) * factor, CLOSEST), last);
  var middle = state.cursor < state.from || state.cursor > state.to ? (state.from + state.to) / 2 : state.cursor;
  var share = (middle - state.from) / (state.to - state.from);
  set({ from: middle - span * share, to: middle + span * (1 - share) });
}

function two(number) {
  return (number < 10 ? "0" : "") + number;
}

// As everywhere in the report: 12:34.5.
function clock(tick) {
  var tenths = Math.round(tick * 10 / data.perSecond);
  return Math.floor(tenths / 600) + ":" + two(Math.floor(tenths / 10) % 60) + "." + tenths % 10;
}

// To the tick, without a needless ending.
function exact(tick) {
  var hundredths = Math.round(tick * 100 / data.perSecond);
  var text = Math.floor(hundredths / 6000) + ":" + two(Math.floor(hundredths / 100) % 60);
  var rest = hundredths % 100;
  return rest === 0 ? text : text + "." + two(rest).replace(/0$/, "");
}

// From m:ss.hh to a tick; null: it is no time.
function tickOf(text) {
  var parts = /^(\d+):(\d\d(?:\.\d+)?)$/.exec(text || "");
  return parts ? Math.round((Number(parts[1]) * 60 + Number(parts[2])) * data.perSecond) : null;
}

function fragment() {
  var fields = ["t=" + exact(state.cursor)];
  if (state.from !== 0 || state.to !== last) {
    fields.push("from=" + exact(state.from), "to=" + exact(state.to));
  }
  if (state.lanes.length !== data.lanes.length) {
    fields.push("lanes=" + state.lanes.map(function (at) { return encodeURIComponent(data.lanes[at]); }).join(","));
  }
  if (state.courses.join() !== first(SHOWN_AT_FIRST).join()) {
    var names = state.courses.map(function (at) { return encodeURIComponent(data.courses[at].name); });
    fields.push("trends=" + names.join(","));
  }
  if (state.references.length !== data.references.length) {
    fields.push("beside=" + state.references.map(function (at) { return encodeURIComponent(data.references[at]); }).join(","));
  }
  if (state.group !== "objective") {
    fields.push("by=" + state.group);
  }
  return "#" + fields.join("&");
}

var remembering = 0;
// Browsers take few changes of the address in a short time: the last of them is enough.
function remember() {
  clearTimeout(remembering);
  remembering = setTimeout(function () {
    if (location.hash !== fragment()) {
      history.replaceState(null, "", fragment());
    }
  }, 120);
}

// What cannot be decoded is no name of anything here.
function plain(text) {
  try {
    return decodeURIComponent(text);
  } catch (_) {
    return text;
  }
}

function named(list, names) {
  return names.split(",").map(plain).map(function (name) { return list.indexOf(name); }).filter(function (at) {
    return at >= 0;
  });
}

// What an address says; null: it is the place of a part of the page, or nothing.
function fromFragment(hash) {
  if (hash.indexOf("=") < 0) {
    return null;
  }
  var found = asOpened();
  hash.replace(/^#/, "").split("&").forEach(function (field) {
    var cut = field.indexOf("=");
    var key = field.slice(0, cut);
    var value = field.slice(cut + 1);
    var tick = tickOf(value);
    if (key === "t" && tick !== null) { found.cursor = tick; }
    if (key === "from" && tick !== null) { found.from = tick; }
    if (key === "to" && tick !== null) { found.to = tick; }
    if (key === "lanes") { found.lanes = named(data.lanes, value); }
    if (key === "trends") { found.courses = named(data.courses.map(function (course) { return course.name; }), value); }
    if (key === "beside") { found.references = named(data.references, value); }
    if (key === "by" && value === "clock") { found.group = value; }
  });
  return found;
}

// Where lines of time stand: round times, not closer than they can be read.
function roundTimes(from, to, width) {
  var steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
  var least = (to - from) / data.perSecond * 74 / Math.max(width, 74);
  var step = steps.filter(function (one) { return one >= least; })[0] || 14400;
  step *= data.perSecond;
  var times = [];
  for (var tick = Math.ceil(from / step) * step; tick <= to; tick += step) {
    times.push(tick);
  }
  return times;
}

function shortClock(tick) {
  return clock(tick).replace(/\.0$/, "");
}

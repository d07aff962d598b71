// The list of events: the same lanes, the same parts, the same cursor.
var list = document.getElementById("events");
var listBox = document.getElementById("events-list");
var now = document.getElementById("now");
var current = null;

function shown(item) {
  return item.lane < 0 || state.lanes.indexOf(item.lane) >= 0;
}

function filterList() {
  items.forEach(function (item) { item.row.hidden = !shown(item); });
}

function partRow(text) {
  var row = document.createElement("tr");
  row.className = "stage by-clock";
  var cell = document.createElement("th");
  cell.colSpan = 5;
  cell.scope = "rowgroup";
  cell.textContent = text;
  row.appendChild(cell);
  return row;
}

function groupList() {
  if (!list) {
    return;
  }
  Array.prototype.forEach.call(list.querySelectorAll(".by-clock"), function (row) { row.remove(); });
  var byClock = state.group === "clock";
  Array.prototype.forEach.call(list.querySelectorAll("tr.stage"), function (row) { row.hidden = byClock; });
  if (!byClock) {
    return;
  }
  var step = [1, 2, 5, 10, 15, 30, 60].filter(function (minutes) {
    return last / data.perSecond / 60 / minutes <= 12;
  })[0] || 60;
  step *= 60 * data.perSecond;
  var part = -1;
  items.forEach(function (item) {
    var of = Math.floor(item.tick / step);
    if (of !== part) {
      part = of;
      item.row.before(partRow(shortClock(of * step) + " to " + shortClock((of + 1) * step)));
    }
  });
}

// The last event at or before the cursor and the next one, among the lanes that are shown.
function around(tick) {
  var seen = items.filter(function (item) { return item.lane >= 0 && shown(item); });
  var low = 0;
  var high = seen.length;
  while (low < high) {
    var middle = (low + high) >> 1;
    if (seen[middle].tick <= tick) { low = middle + 1; } else { high = middle; }
  }
  return { before: seen[low - 1] || null, after: seen[low] || null };
}

// To the next event that matters, or back.
function step(forward) {
  var seen = items.filter(function (item) { return item.matters && shown(item); });
  var next = forward
    ? seen.filter(function (item) { return item.tick > state.cursor; })[0]
    : seen.filter(function (item) { return item.tick < state.cursor; }).pop();
  if (next) {
    goTo(next.tick);
  }
}

function spoken(item) {
  return clock(item.tick) + " " + item.who + ": " + item.text;
}

function tellCursor() {
  var near = around(state.cursor);
  var strong = document.createElement("strong");
  strong.textContent = clock(state.cursor);
  now.replaceChildren(strong, near.before ? "  last: " + spoken(near.before) : "  nothing yet");
  if (near.after) {
    now.append(document.createElement("br"), "next: " + spoken(near.after));
  }
  lanesBox.setAttribute("aria-valuenow", state.cursor);
  lanesBox.setAttribute("aria-valuetext", clock(state.cursor) + (near.before ? ", last: " + spoken(near.before) : ""));
  if (current) {
    current.removeAttribute("aria-current");
  }
  current = near.before && near.before.row;
  if (current) {
    current.setAttribute("aria-current", "true");
    if (listBox.open) {
      var box = list.parentElement;
      box.scrollTop = current.offsetTop - box.clientHeight / 2;
    }
  }
}

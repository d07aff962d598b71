// How the parts follow what is shown, and how it begins.
listeners.push(function (changes) {
  var window = "from" in changes || "to" in changes;
  if ("courses" in changes) {
    drawCourses();
  } else if ("references" in changes) {
    panels.forEach(function (panel) { panel.draw(); });
  } else if (window) {
    panels.forEach(function (panel) { panel.window(); });
  }
  if (window || "lanes" in changes || "group" in changes) {
    drawLanes();
  }
  if ("lanes" in changes) {
    filterList();
  }
  if ("group" in changes) {
    groupList();
  }
  if ("cursor" in changes || "lanes" in changes) {
    drawCursor();
    everyPanel(function (panel) { panel.cursor(); });
    tellCursor();
  }
  tickBoxes();
});

function itemOf(hash) {
  var seq = /^#e(\d+)$/.exec(hash);
  return seq ? items.filter(function (item) { return item.seq === seq[1]; })[0] : undefined;
}

// The place of an event in the page is also its time.
function follow(hash) {
  var item = itemOf(hash);
  if (item) {
    goTo(item.tick);
    lanesBox.scrollIntoView({ block: "center" });
    lanesBox.focus({ preventScroll: true });
  }
  return Boolean(item);
}

document.addEventListener("click", function (event) {
  var way = event.target.closest && event.target.closest("a.event");
  if (way && follow(way.getAttribute("href"))) {
    event.preventDefault();
  }
});

addEventListener("hashchange", function () {
  var found = fromFragment(location.hash);
  if (found) {
    set(found);
  } else {
    follow(location.hash);
  }
});

function drawAll() {
  drawLanes();
  everyPanel(function (panel) { panel.draw(); });
}

var wide = 0;
new ResizeObserver(function () {
  if (lanesBox.clientWidth !== wide) {
    wide = lanesBox.clientWidth;
    drawAll();
  }
}).observe(lanesBox);
["(prefers-color-scheme: dark)", "print"].forEach(function (query) {
  matchMedia(query).addEventListener("change", drawAll);
});
addEventListener("beforeprint", drawAll);
addEventListener("afterprint", drawAll);

var asked = fromFragment(location.hash);
if (asked) {
  // Through the same door as every change, so that ends are where they can be.
  set(asked);
} else {
  set(asOpened());
}
drawMoments();
if (!asked) {
  follow(location.hash);
}

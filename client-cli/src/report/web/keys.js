// Keys, buttons and boxes.
var told = document.getElementById("told");

function stride() {
  return Math.max(data.perSecond, Math.round((state.to - state.from) / 200));
}

function shift(share) {
  var by = (state.to - state.from) * share;
  set({ from: state.from + by, to: state.to + by });
}

function link() {
  clearTimeout(remembering);
  history.replaceState(null, "", fragment());
  var say = function (text) { told.textContent = text; };
  if (!navigator.clipboard) {
    return say("The address bar has the link.");
  }
  navigator.clipboard.writeText(location.href).then(
    function () { say("Copied."); },
    function () { say("The address bar has the link."); }
  );
}

var does = {
  previous: function () { step(false); },
  next: function () { step(true); },
  closer: function () { zoom(0.5); },
  wider: function () { zoom(2); },
  whole: function () { set({ from: 0, to: last }); },
  link: link
};

var keys = {
  "ArrowLeft": function (event) { goTo(state.cursor - (event.shiftKey ? 1 : stride())); },
  "ArrowRight": function (event) { goTo(state.cursor + (event.shiftKey ? 1 : stride())); },
  "PageUp": function () { goTo(state.cursor - (state.to - state.from) / 10); },
  "PageDown": function () { goTo(state.cursor + (state.to - state.from) / 10); },
  "Home": function () { goTo(0); },
  "End": function () { goTo(last); },
  "n": does.next,
  "p": does.previous,
  "+": does.closer,
  "=": does.closer,
  "-": does.wider,
  "0": does.whole,
  "[": function () { shift(-0.5); },
  "]": function () { shift(0.5); },
  "o": function () { set({ group: "objective" }); },
  "c": function () { set({ group: "clock" }); },
  "r": function () { set({ references: state.references.length ? [] : allReferences() }); },
  "l": does.link
};

lanesBox.addEventListener("keydown", function (event) {
  var key = keys[event.key];
  if (key && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    key(event);
  }
});

Array.prototype.forEach.call(document.querySelectorAll("[data-do]"), function (button) {
  button.addEventListener("click", does[button.dataset.do]);
});

function boxes(name) {
  return Array.prototype.slice.call(document.querySelectorAll("input[name=" + name + "]"));
}

function checked(name) {
  return boxes(name).filter(function (box) { return box.checked; }).map(function (box) { return Number(box.value); });
}

boxes("lane").forEach(function (box) {
  box.addEventListener("change", function () { set({ lanes: checked("lane") }); });
});
boxes("course").forEach(function (box) {
  box.addEventListener("change", function () { set({ courses: checked("course") }); });
});
boxes("reference").forEach(function (box) {
  box.addEventListener("change", function () { set({ references: checked("reference") }); });
});
boxes("group").forEach(function (box) {
  box.addEventListener("change", function () { set({ group: box.value }); });
});

// The boxes say what is shown, however it came to be.
function tickBoxes() {
  boxes("lane").forEach(function (box) { box.checked = state.lanes.indexOf(Number(box.value)) >= 0; });
  boxes("course").forEach(function (box) { box.checked = state.courses.indexOf(Number(box.value)) >= 0; });
  boxes("reference").forEach(function (box) { box.checked = state.references.indexOf(Number(box.value)) >= 0; });
  boxes("group").forEach(function (box) { box.checked = box.value === state.group; });
}

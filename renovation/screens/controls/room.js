// The pages shown to a room: larger type, and keys that turn the page. See room.py. The size of the type is set as a
// person's own larger type in the browser sets it: at the root, from which the library counts all of its sizes.
const NAME = "renovation_room";
const WIDE = 1200; // a narrower window is nobody's wall
const LETTERS = 76; // sizes of type in the width of the window: read from the last row
const LARGER = 1.15; // at least
const TYPED_IN = 'input, textarea, select, [contenteditable="true"], [role="combobox"], [role="listbox"], [role="dialog"]';
const MOVED_IN = '[role="radiogroup"], [role="slider"], [role="tablist"], [role="grid"], [role="menu"], [role="region"]';
const TURNS = { ArrowRight: "next", ArrowLeft: "back" };

function kept() {
  try {
    return window.localStorage.getItem(NAME) === "1";
  } catch {
    return false; // a browser that refuses has nothing to tell
  }
}

function keep(on) {
  try {
    if (on) window.localStorage.setItem(NAME, "1");
    else window.localStorage.removeItem(NAME);
  } catch {
    // the address says it still
  }
}

function fit(room) {
  const size = Math.max(LARGER * room.usual, window.innerWidth / LETTERS);
  const wall = room.on && window.innerWidth >= WIDE;
  document.documentElement.style.fontSize = wall ? `${size}px` : "";
}

function turn(room, event) {
  if (!room.on || event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
  const at = event.composedPath()[0];
  if (event.key === "Escape") at.blur?.(); // what was typed stays, and the keys turn pages again
  if (at.closest?.(TYPED_IN) || document.querySelector('[role="dialog"]')) return;
  const to = TURNS[event.key] ?? (/^[0-9]$/.test(event.key) ? event.key : null);
  if (to === null || (to in { next: 1, back: 1 } && at.closest?.(MOVED_IN))) return;
  event.preventDefault();
  room.tell("turned", to);
}

function begin() {
  const room = { asked: false, usual: parseFloat(getComputedStyle(document.documentElement).fontSize) };
  document.addEventListener("keydown", (event) => turn(room, event));
  window.addEventListener("resize", () => fit(room));
  return room;
}

export default function ({ data, setTriggerValue }) {
  const room = (window.renovationRoom ??= begin());
  room.tell = setTriggerValue;
  room.on = data.on;
  const first = !room.asked;
  room.asked = true;
  if (first && !data.on && kept()) {
    setTriggerValue("kept", true);
    return;
  }
  keep(data.on);
  fit(room);
}

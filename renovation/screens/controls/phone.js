// What the screen library leaves undone on a small screen; see phone.py. It sets attributes and presses the menu's own
// button: how a page looks is the library's. Of the page nothing is read, kept or sent but how many letters a line holds.
const NARROW = "(max-width: 767px)"; // as wide, the sidebar covers the page
const LETTER = 0.54 * 0.875; // of the size of the text: a letter of a table, a wide one
const NUMBER = '[data-testid="stTextInputField"][autocomplete="off"]';
const TABLE = '[data-testid="stTableStyledTable"]';

const all = (what) => document.querySelectorAll(what);

// What goes on at the side can be reached with the keyboard, and is named.
function reach(table) {
  const frame = table.parentElement;
  const goesOn = table.scrollWidth > frame.clientWidth + 1;
  if (goesOn === (frame.getAttribute("role") === "region")) return;
  if (goesOn) {
    frame.tabIndex = 0;
    frame.setAttribute("role", "region");
    frame.setAttribute("aria-label", table.getAttribute("aria-label") ?? "");
  } else for (const name of ["tabindex", "role", "aria-label"]) frame.removeAttribute(name);
}

function fit() {
  for (const entry of all(NUMBER)) if (entry.inputMode !== "decimal") entry.inputMode = "decimal";
  for (const table of all(TABLE)) reach(table);
}

function choose(event) {
  const link = event.target.closest?.('[data-testid="stSidebarNavLink"]');
  if (!link || !matchMedia(NARROW).matches) return;
  setTimeout(() => document.querySelector('[data-testid="stSidebarCollapseButton"] button')?.click(), 0);
}

function letters() {
  if (!matchMedia(NARROW).matches) return null;
  const size = parseFloat(getComputedStyle(document.documentElement).fontSize);
  return Math.max(1, Math.floor((innerWidth - 2 * size) / (LETTER * size)));
}

// The page is drawn and stands still. What is drawn anew before it was there begins with empty fields, and says so.
const APP = '[data-testid="stApp"][data-test-script-state="notRunning"]';
const COMING = '[data-testid="stSkeleton"], [data-stale="true"]';
const STILL = 500; // milliseconds
const AGAIN = 5000; // what was told may be lost on the way
const still = () => document.querySelector(APP) !== null && document.querySelector(COMING) === null;

// Told until the server knows it, and again only when the screen is turned: what is known is not told. Nothing is told
// just after a tap: the second of two messages ends the run of the first, be it as far as it may.
function tell(phone) {
  const now = letters();
  clearTimeout(phone.waiting);
  if (now === phone.known) return;
  phone.stood = still() && !phone.touched ? (phone.stood ?? 0) + 1 : 0;
  phone.touched = false;
  if (phone.stood < 2) {
    phone.waiting = setTimeout(tell, STILL, phone);
    return;
  }
  phone.stood = 0;
  phone.tell("letters", now ?? 0);
  phone.waiting = setTimeout(tell, AGAIN, phone);
}

function begin() {
  const phone = { known: null };
  let asked = false;
  const soon = () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      fit();
    });
  };
  new MutationObserver(soon).observe(document.body, { childList: true, subtree: true });
  window.addEventListener("resize", () => {
    soon();
    tell(phone);
  });
  document.addEventListener("click", choose);
  for (const what of ["click", "keydown", "change"]) document.addEventListener(what, () => (phone.touched = true), true);
  phone.fit = soon;
  return phone;
}

export default function ({ data, setTriggerValue }) {
  const phone = (window.renovationPhone ??= begin());
  phone.known = data.letters;
  phone.tell = setTriggerValue;
  phone.fit();
  tell(phone);
}

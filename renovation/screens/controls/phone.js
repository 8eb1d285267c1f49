// What the screen library leaves undone on a small screen; see phone.py. Nothing of a page is read, kept or sent.
const FINGER = "44px";
const SMALL = "(max-width: 767px), (pointer: coarse)";
const COVERED = "(max-width: 767px)"; // as wide, the sidebar covers the page
const NUMBER = '[data-testid="stTextInputField"][autocomplete="off"]';
const TABLE = '[data-testid="stTableStyledTable"]';
const PRESSED = [
  'button[data-testid^="stBaseButton"]',
  '[data-testid="stButtonGroup"] button',
  '[data-testid="stSidebarNavLink"]',
  '[data-testid="stTextInputRootElement"]',
  '[data-testid="stSelectbox"] [data-baseweb="select"] > div',
  '[data-testid="stSelectbox"] [role="group"]',
  '[data-testid="stExpander"] summary',
  '[data-testid="stCheckbox"] label',
].join(",");
const SIGNS = '[data-testid="stExpandSidebarButton"], [data-testid="stMainMenuButton"], [data-testid="stSidebarHeader"] button';
const HELP = '[data-testid="stTooltipHoverTarget"] > button[aria-label]';

const all = (what) => document.querySelectorAll(what);
const colour = (element) => getComputedStyle(element).backgroundColor;
const clear = (shade) => shade === "transparent" || /, 0\)$/.test(shade);

function ground(element) {
  while (element.parentElement && clear(colour(element))) element = element.parentElement;
  return colour(element);
}

function set(element, style) {
  for (const [name, value] of Object.entries(style)) if (element.style[name] !== value) element.style[name] = value;
}

// A shade stands at the side where a table goes on, and its first column stays in sight.
function edge(table) {
  const frame = table.parentElement;
  const over = table.scrollWidth > frame.clientWidth + 1;
  if (!over && !frame.dataset.goesOn) return;
  const behind = ground(frame.parentElement);
  const names = table.querySelectorAll("tr > :first-child");
  const led = over && names.length > 0 && names[0].offsetWidth < frame.clientWidth * 0.45;
  frame.dataset.goesOn = over ? "yes" : "";
  frame.tabIndex = over ? 0 : -1;
  if (over) {
    frame.setAttribute("role", "region");
    frame.setAttribute("aria-label", table.getAttribute("aria-label") ?? "");
  }
  const cover = (side) => `linear-gradient(to ${side}, ${behind} 40%, transparent)`;
  const shade = (side) => `linear-gradient(to ${side}, rgba(110, 110, 110, 0.75), transparent)`;
  set(frame, {
    backgroundImage: over ? [cover("right"), cover("left"), shade("right"), shade("left")].join(", ") : "",
    backgroundPosition: over ? "left, right, left, right" : "",
    backgroundSize: over ? "48px 100%, 48px 100%, 18px 100%, 18px 100%" : "",
    backgroundRepeat: over ? "no-repeat" : "",
    backgroundAttachment: over ? "local, local, scroll, scroll" : "",
  });
  for (const cell of names)
    set(cell, led ? { position: "sticky", left: "0px", backgroundColor: behind } : { position: "", backgroundColor: "" });
}

function fit() {
  for (const entry of all(NUMBER)) if (entry.inputMode !== "decimal") entry.inputMode = "decimal";
  const small = matchMedia(SMALL).matches;
  for (const thing of all(PRESSED)) set(thing, { minHeight: small ? FINGER : "" });
  for (const thing of all(SIGNS)) set(thing, { minHeight: small ? FINGER : "", minWidth: small ? FINGER : "" });
  for (const thing of all(HELP)) set(thing, { padding: small ? "14px" : "", margin: small ? "-14px" : "" });
  for (const table of all(TABLE)) edge(table);
}

function choose(event) {
  const link = event.target.closest?.('[data-testid="stSidebarNavLink"]');
  if (!link || !matchMedia(COVERED).matches) return;
  setTimeout(() => document.querySelector('[data-testid="stSidebarCollapseButton"] button')?.click(), 0);
}

function begin() {
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
  window.addEventListener("resize", soon);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => setTimeout(soon, 500));
  document.addEventListener("click", choose);
  return soon;
}

export default function () {
  (window.renovationPhone ??= begin())();
}

// The farm in hand on the visitor's own device: told when it is asked for, written when it has changed. See device.py.
const NAME = "renovation_farm";

// This tab's own farm first: what another tab has in hand is the other tab's.
const stores = () => [window.sessionStorage, window.localStorage];
const own = () => window.sessionStorage.getItem(NAME);
const found = () => stores().map((store) => store.getItem(NAME)).find(Boolean) ?? null;

// All that the server is sent unasked: that there is something to ask for.
function mark(there) {
  const secure = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${NAME}=${there ? 1 : 0}; path=/; SameSite=Strict; max-age=${there ? 34560000 : 0}${secure}`;
}

function remove(fromAll) {
  const mine = own();
  if (fromAll || (mine && mine === window.localStorage.getItem(NAME))) {
    window.localStorage.removeItem(NAME);
    mark(false);
  }
  window.sessionStorage.removeItem(NAME);
}

function answer(page, data, tell) {
  const before = page.asked !== null || performance.getEntriesByType("navigation")[0]?.type !== "navigate";
  page.asked = data.ask;
  let text = null;
  let again = false;
  try {
    text = found();
    again = before && own() !== null;
    if (text) window.sessionStorage.setItem(NAME, text);
  } catch {
    // a browser that refuses has nothing to tell
  }
  const shared = location.hash.slice(1);
  if (shared) history.replaceState(history.state, "", location.pathname + location.search);
  if (!data.wait && !text) return false;
  tell("heard", { text: text && text.slice(text.indexOf(" ") + 1), again, shared });
  return true;
}

function obey(page, data, tell) {
  if (data.do === "keep" && data.text !== null) {
    for (const store of stores()) store.setItem(NAME, `${data.stamp} ${data.text}`);
    mark(true);
  } else if (data.do === "keep" && !(own() ?? "").startsWith(`${data.stamp} `)) {
    tell("missed", data.stamp);
  } else if (data.do === "clear") {
    remove(false);
  } else if (data.do === "forget" && page.forgot !== data.stamp) {
    page.forgot = data.stamp;
    remove(true);
  }
}

function forgetWithOthers(event) {
  if (event.key === NAME && event.newValue === null) window.sessionStorage.removeItem(NAME);
}

export default function ({ data, setTriggerValue }) {
  const page = (window.renovationFarm ??= { asked: null, forgot: null, refused: false });
  if (data.ask && data.ask !== page.asked && answer(page, data, setTriggerValue)) return;
  try {
    window.addEventListener("storage", forgetWithOthers);
    obey(page, data, setTriggerValue);
  } catch {
    if (!page.refused) setTriggerValue("refused", true);
    page.refused = true;
  }
}

// Copies the share link while its button is being pressed, for only then a browser lets a page copy. See share.py.
const BUTTON = ".st-key-share_copy button";
const SAID = ".st-key-share_said [data-testid=stAlert]";
const LINK = ".st-key-share_link code";

async function copy(text) {
  if (navigator.clipboard) {
    await navigator.clipboard.writeText(text);
    return;
  }
  // a page that comes without encryption has no clipboard: what is selected is copied the old way
  const field = document.createElement("textarea");
  field.value = text;
  document.body.append(field);
  field.select();
  const done = document.execCommand("copy");
  field.remove();
  if (!done) throw new Error("not copied");
}

// A message can be lost where another leaves at the same moment: it is told again until the page says it.
function tell(what, tries = 5) {
  window.renovationShare("told", what);
  let looks = 15;
  const look = setInterval(() => {
    const said = document.querySelector(SAID);
    if (!said && --looks) return;
    clearInterval(look);
    if (!said && tries) tell(what, tries - 1);
  }, 100);
}

function press(event) {
  const link = document.querySelector(LINK);
  if (!link || !event.target.closest?.(BUTTON)) return;
  event.stopPropagation();
  copy(link.textContent).then(
    () => tell("copied"),
    () => tell("not_copied"),
  );
}

export default function ({ setTriggerValue }) {
  if (!window.renovationShare) document.addEventListener("click", press, true);
  window.renovationShare = setTriggerValue;
}

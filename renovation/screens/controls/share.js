// Copies the share link while its button is being pressed, for only then a browser lets a page copy. See share.py.
const BUTTON = ".st-key-share_copy button";
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

function press(event) {
  const link = document.querySelector(LINK);
  if (!link || !event.target.closest?.(BUTTON)) return;
  event.stopPropagation();
  const tell = (what) => window.renovationShare("told", what);
  copy(link.textContent).then(
    () => tell("copied"),
    () => tell("not_copied"),
  );
}

export default function ({ setTriggerValue }) {
  if (!window.renovationShare) document.addEventListener("click", press, true);
  window.renovationShare = setTriggerValue;
}

// The language of the document, and the one that was chosen on this device; see language.py.
const NAME = "renovation_language";

export default function ({ data }) {
  if (document.documentElement.lang !== data.language) document.documentElement.lang = data.language;
  if (!data.keep) return;
  const secure = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${NAME}=${data.keep}; path=/; SameSite=Strict; max-age=34560000${secure}`;
}

// The language of the document; see language.py.
export default function ({ data }) {
  if (document.documentElement.lang !== data.language) document.documentElement.lang = data.language;
}

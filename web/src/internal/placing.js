// @ts-check
/** The element as a page of its own: told by the page's address, or by `data-src` of its `main`. */
import "../ganosis-view.js";

/**
 * @param {readonly string[]} names of attributes that the address may tell; `src` only where the page was not made for one dossier
 * @param {Record<string, string>} [fixed] attributes
 */
export function place(names, fixed = {}) {
  const parameters = new URLSearchParams(location.search);
  const element = document.createElement("ganosis-view");
  for (const name of names) {
    const value = parameters.get(name);
    if (value) element.setAttribute(name, value);
  }
  const main = document.querySelector("main");
  const own = main?.dataset["src"];
  if (own) element.setAttribute("src", own);
  // What was published is looked at.
  if (own) element.setAttribute("edit", "never");
  for (const [name, value] of Object.entries(fixed)) element.setAttribute(name, value);
  const heading = document.createElement("h1");
  heading.textContent = document.title;
  main?.append(heading, element);
  element.ready.then(() => {
    const title = element.dossier?.title;
    if (title) document.title = heading.textContent = title;
  }, () => {});
  element.addEventListener("viewchange", ({ detail }) => {
    document.documentElement.lang = detail.language;
  });
  return element;
}

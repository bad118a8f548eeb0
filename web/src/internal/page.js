// @ts-check
/** The whole-page viewer: `?src=` names the dossier, unless the page was made for one (`data-src` of its `main`); `#…` the view. */
import "../ganosis-view.js";

const parameters = new URLSearchParams(location.search);
const element = document.createElement("ganosis-view");
for (const name of ["src", "backend", "language"]) {
  const value = parameters.get(name);
  if (value) element.setAttribute(name, value);
}
const own = document.querySelector("main")?.dataset["src"];
if (own) element.setAttribute("src", own);
element.setAttribute("address", "hash");
const heading = document.createElement("h1");
heading.textContent = document.title;
document.querySelector("main")?.append(heading, element);
element.ready.then(() => {
  const title = element.dossier?.title;
  if (title) document.title = heading.textContent = title;
}, () => {});
element.addEventListener("viewchange", ({ detail }) => {
  document.documentElement.lang = detail.language;
});

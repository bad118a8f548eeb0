// A lesson around a frame: it asks by messages, version 1, and hears what is seen.
const frame = document.querySelector("#boss");
const address = new URL("../viewer/embed.html", location.href);
address.search = new URLSearchParams({ src: "../sallowmere-boss/", controls: "compare", page: location.origin });
frame.src = address.href;

let last = 0;
const ask = (message) => frame.contentWindow.postMessage({ ganosis: 1, id: ++last, ...message }, address.origin);
let states = [];

window.addEventListener("message", ({ source, origin, data }) => {
  if (source !== frame.contentWindow || origin !== address.origin || data?.ganosis !== 1) return;
  if (data.tell === "ready") states = data.dossier.states;
  const view = data.view;
  if (!view) return;
  const title = (id) => states.find((state) => state.id === id)?.title ?? id;
  document.querySelector("#seen").textContent = view.compare === "one" ? title(view.left) : `${title(view.left)} · ${title(view.right)}`;
});
for (const button of document.querySelectorAll("[data-view]")) {
  button.addEventListener("click", () => ask({ ask: "set-view", view: JSON.parse(button.dataset.view) }));
}

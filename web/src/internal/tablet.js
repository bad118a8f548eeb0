// @ts-check
/**
 * The page of a gallery tablet: `?src=` names the dossier, `idle=` the seconds after which it starts again,
 * `language=` the language it starts in. It keeps everything on the tablet, and begins anew by itself when
 * something has gone wrong.
 */
import { place } from "./placing.js";
import { keepAll } from "./gallery/offline.js";
import { Counts } from "./gallery/counts.js";
import { BASE } from "./site/base.js";

/** A page that could not show its object tries again (ms); when it has run for half a day it begins anew once nobody is there (ms). */
const [RETRY_MS, RENEW_MS] = [15_000, 12 * 3600_000];
/** A page that ran so long was well, and may begin anew so soon (ms). */
const [WELL_MS, SOON_MS] = [60_000, 1000];

const counts = new Counts();
const element = place(["src", "backend", "language", "idle"], { mode: "gallery", opens: "at-once", edit: "never" });

/** @param {unknown} error */
const note = (error) => counts.note(error instanceof Error ? error.message : String(error));
/** A viewer that broke off does nothing more: the page begins anew, at once when it has long been well. @param {unknown} error */
const broken = (error) => {
  note(error);
  if (error instanceof WebAssembly.RuntimeError) setTimeout(restart, performance.now() > WELL_MS ? SOON_MS : RETRY_MS);
};
addEventListener("error", ({ error, message }) => broken(error ?? message));
addEventListener("unhandledrejection", ({ reason }) => broken(reason));
element.addEventListener("dossiererror", ({ detail }) => note(`${detail.message} ${detail.file}`));

/** The address without a part is the page's own: nothing of a visit stays in it. */
const restart = () => location.reload();
element.ready.catch((error) => {
  note(error);
  setTimeout(restart, RETRY_MS);
});
// A device that is gone for good leaves a message in place of the picture.
setInterval(() => { if (element.shadowRoot?.querySelector(".failure")) restart(); }, RETRY_MS);
element.addEventListener("galleryrestart", restart);
element.addEventListener("galleryhome", () => {
  if (performance.now() > RENEW_MS) restart();
});
element.addEventListener("gallerybegin", () => {
  // Both are refused in places; neither is needed.
  if (!document.fullscreenElement) document.documentElement.requestFullscreen?.({ navigationUI: "hide" }).catch(() => {});
  void keepAwake();
});
addEventListener("contextmenu", (event) => event.preventDefault());

async function keepAwake() {
  await navigator.wakeLock?.request("screen").catch(() => null);
}
addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") void keepAwake(); });
void keepAwake();

// The picture first: keeping takes a while, and whoever stands there waits for nothing.
element.ready.catch(() => {}).then(() => keepAll({ base: BASE, src: element.getAttribute("src") ?? "" })).then((how) => { document.documentElement.dataset["kept"] = how; }, (error) => {
  document.documentElement.dataset["kept"] = "failed";
  note(error);
});

// @ts-check
/** Nothing on a tablet leads away from it: links lead nowhere, nothing is selected, dragged or opened in a menu. */

const PREVENTED = ["contextmenu", "selectstart", "dragstart", "gesturestart", "auxclick"];

/** @param {HTMLElement} room @param {AbortSignal} signal */
export function guard(room, signal) {
  const stop = (/** @type {Event} */ event) => event.preventDefault();
  for (const type of PREVENTED) room.addEventListener(type, stop, { capture: true, signal });
  const disarm = (/** @type {Element} */ link) => {
    for (const name of ["href", "target", "download"]) link.removeAttribute(name);
  };
  const observer = new MutationObserver((changes) => {
    for (const { target, addedNodes } of changes) {
      if (target instanceof Element && target.localName === "a") disarm(target);
      for (const node of addedNodes) if (node instanceof Element) for (const link of [node, ...node.querySelectorAll("a")]) if (link.localName === "a") disarm(link);
    }
  });
  observer.observe(room, { subtree: true, childList: true, attributes: true, attributeFilter: ["href"] });
  for (const link of room.querySelectorAll("a")) disarm(link);
  signal.addEventListener("abort", () => observer.disconnect());
}

// @ts-check
/** The worker of the porter. */
import { bring, read, serve } from "../serving.js";
import { forget, grey, load, open, tree } from "./porting.js";

/** @typedef {import("../serving.js").Answer} Answer */

serve(answer, "What opens files came upon a fault of its own: open the page again. ");
// Not waited for: a module that cannot be had is said with the first call.
load().catch(() => {});

/** @param {string} method @param {any} values @returns {Promise<Answer>} */
async function answer(method, values) {
  switch (method) {
    case "open": {
      const { picture, bytes } = values;
      const opened = await open(picture, bytes, values.path, async (path) => {
        // The page knows by the number whose file it is.
        const own = `${picture}:${path}`;
        await bring(() => [own]);
        return read(own);
      });
      return { result: opened, transfer: [opened.head, ...opened.arrays].map(({ buffer }) => buffer) };
    }
    case "tree": {
      const made = await tree(values.picture);
      return { result: made, transfer: made ? [made.boxes.buffer, made.order.buffer] : [] };
    }
    case "forget": {
      forget(values.picture);
      return { result: null };
    }
    case "grey": {
      const read_out = await grey(values.bytes);
      return { result: read_out, transfer: [read_out.texels.buffer] };
    }
    default: throw new Error(`The porter does not know ${method}.`);
  }
}

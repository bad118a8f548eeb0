// @ts-check
/** Decoding pictures off the main thread, with the code values left as they are. */
import { ViewerError } from "./errors.js";

/** Neither colour conversion nor premultiplication: the file's own code values reach the surface. */
const EXACT = /** @type {const} */ ({ colorSpaceConversion: "none", premultiplyAlpha: "none" });

/**
 * Says whether this browser leaves code values alone. The place for a self-test
 * with a one-pixel PNG that carries a gamma chunk; until one is needed every
 * browser is trusted.
 * @type {{keepsCodeValues: () => Promise<boolean>}}
 */
export const decoding = { keepsCodeValues: async () => true };

/**
 * @param {Uint8Array} bytes PNG, JPEG or WebP
 * @param {object} options
 * @param {string} options.file
 * @param {string} [options.mime]
 * @param {number} options.largest_px side that the graphics device can hold
 * @returns {Promise<{image: ImageBitmap, reduced: boolean}>}
 */
export async function decodeImage(bytes, { file, mime, largest_px }) {
  const blob = new Blob([/** @type {BlobPart} */ (bytes)], mime ? { type: mime } : {});
  let image;
  try {
    image = await createImageBitmap(blob, EXACT);
  } catch {
    throw new ViewerError({ key: "undecodable", file, detail: "" });
  }
  const longest = Math.max(image.width, image.height);
  if (longest <= largest_px) return { image, reduced: false };
  const scale = largest_px / longest;
  const smaller = await createImageBitmap(image, {
    ...EXACT, resizeQuality: "high",
    resizeWidth: Math.max(1, Math.round(image.width * scale)),
    resizeHeight: Math.max(1, Math.round(image.height * scale)),
  });
  image.close();
  return { image: smaller, reduced: true };
}

// @ts-check
/** Files for the person. */

/** Hands a file to the person. @param {Blob} blob @param {string} name */
export function handOut(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  // The browser reads it after this task.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

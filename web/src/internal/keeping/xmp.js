// @ts-check
/**
 * What a picture says of itself: texts under the keywords of PNG (third edition, section 11.3.3.1), and the
 * same as an XMP packet (ISO 16684-1, sections 7.3 and 8.3) for programs that read that. No DOM here.
 */

/**
 * @typedef {object} About
 * @property {string} title
 * @property {string} creator
 * @property {string} description
 * @property {string} rights
 * @property {string} licence an address, or ""
 * @property {string} source
 * @property {string} language BCP 47
 * @property {Date} when
 */

export const SOFTWARE = "Ganosis";

/** @param {About} about @returns {[string, string, string?][]} */
export function textsOf(about) {
  const { language } = about;
  /** @type {[string, string, string?][]} */
  const texts = [
    ["Title", about.title, language], ["Author", about.creator, language], ["Description", about.description, language],
    ["Copyright", about.rights, language], ["Source", about.source], ["Creation Time", moment(about.when)], ["Software", SOFTWARE],
    ["XML:com.adobe.xmp", packetOf(about)],
  ];
  return texts.filter(([, text]) => text !== "");
}

/** RFC 3339, to the second. @param {Date} when */
const moment = (when) => when.toISOString().replace(/\.\d+Z$/, "Z");

/** @param {About} about */
export function packetOf(about) {
  const alternatives = (/** @type {string} */ name, /** @type {string} */ text) => (text === "" ? "" : `<${name}><rdf:Alt><rdf:li xml:lang="x-default">${escaped(text)}</rdf:li></rdf:Alt></${name}>`);
  return [
    // The byte order mark and the id are those of the standard, section 7.3.2.
    '<?xpacket begin="\uFEFF" id="W5M0MpCehiHzreSzNTczkc9d"?>',
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">',
    '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:xmpRights="http://ns.adobe.com/xap/1.0/rights/">',
    alternatives("dc:title", about.title),
    about.creator === "" ? "" : `<dc:creator><rdf:Seq><rdf:li>${escaped(about.creator)}</rdf:li></rdf:Seq></dc:creator>`,
    alternatives("dc:description", about.description),
    alternatives("dc:rights", about.rights),
    about.licence === "" ? "" : `<xmpRights:WebStatement>${escaped(about.licence)}</xmpRights:WebStatement>`,
    about.source === "" ? "" : `<dc:source>${escaped(about.source)}</dc:source>`,
    `<xmp:CreateDate>${moment(about.when)}</xmp:CreateDate><xmp:CreatorTool>${SOFTWARE}</xmp:CreatorTool>`,
    "</rdf:Description></rdf:RDF></x:xmpmeta>",
    '<?xpacket end="r"?>',
  ].join("");
}

/** Characters that XML 1.0 (section 2.2) has no place for are left out. @param {string} text */
function escaped(text) {
  return text.replace(/[^\t\n\r\u0020-\uD7FF\uE000-\uFFFD\u{10000}-\u{10FFFF}]/gu, "")
    .replace(/[&<>"]/g, (sign) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[sign] ?? sign);
}

// @ts-check
/** Chemical symbols, checked against the periodic table. No DOM here. */

/** IUPAC Periodic Table of the Elements (4 May 2022), in order of atomic number. */
const SYMBOLS = (
  "H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Se Br Kr Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe "
  + "Cs Ba La Ce Pr Nd Pm Sm Eu Gd Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi Po At Rn Fr Ra Ac Th Pa U Np Pu Am Cm Bk Cf Es Fm Md No Lr "
  + "Rf Db Sg Bh Hs Mt Ds Rg Cn Nh Fl Mc Lv Ts Og").split(" ");

const KNOWN = new Set(SYMBOLS);

/** The symbol as it is written, or null if there is none such. @param {string} written */
export function symbolOf(written) {
  const symbol = written.slice(0, 1).toUpperCase() + written.slice(1).toLowerCase();
  return KNOWN.has(symbol) ? symbol : null;
}

/** Symbols in a line such as "cu, Pb Sn". @param {string} line */
export function symbolsIn(line) {
  /** @type {string[]} */
  const known = [];
  /** @type {string[]} */
  const unknown = [];
  for (const word of line.split(/[\s,;·/]+/u).filter(Boolean)) {
    const symbol = symbolOf(word);
    if (!symbol) unknown.push(word);
    else if (!known.includes(symbol)) known.push(symbol);
  }
  return { known, unknown };
}

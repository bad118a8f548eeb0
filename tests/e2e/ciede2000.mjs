// The difference of two colours, written from the paper, so that nothing of the project makes its own test:
// G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula", Color Research and Application 30(1), 2005.

/** CIEDE2000 after equations (2) to (22) of Sharma, Wu and Dalal. */
export function deltaE2000([l1, a1, b1], [l2, a2, b2]) {
  const deg = Math.PI / 180;
  const mean_c = (Math.hypot(a1, b1) + Math.hypot(a2, b2)) / 2;
  const g = 0.5 * (1 - Math.sqrt(mean_c ** 7 / (mean_c ** 7 + 25 ** 7)));
  const polar = (a, b) => [Math.hypot((1 + g) * a, b), a === 0 && b === 0 ? 0 : (Math.atan2(b, (1 + g) * a) / deg + 360) % 360];
  const [[c1, h1], [c2, h2]] = [polar(a1, b1), polar(a2, b2)];
  let dh = c1 * c2 === 0 ? 0 : h2 - h1;
  if (dh > 180) dh -= 360;
  if (dh < -180) dh += 360;
  let h = h1 + h2;
  if (c1 * c2 !== 0) h = Math.abs(h1 - h2) <= 180 ? h / 2 : h < 360 ? (h + 360) / 2 : (h - 360) / 2;
  const [l, c] = [(l1 + l2) / 2, (c1 + c2) / 2];
  const t = 1 - 0.17 * Math.cos((h - 30) * deg) + 0.24 * Math.cos(2 * h * deg) + 0.32 * Math.cos((3 * h + 6) * deg) - 0.2 * Math.cos((4 * h - 63) * deg);
  const s_l = 1 + 0.015 * (l - 50) ** 2 / Math.sqrt(20 + (l - 50) ** 2);
  const [s_c, s_h] = [1 + 0.045 * c, 1 + 0.015 * c * t];
  const r_t = -2 * Math.sqrt(c ** 7 / (c ** 7 + 25 ** 7)) * Math.sin(60 * Math.exp(-(((h - 275) / 25) ** 2)) * deg);
  const [x, y, z] = [(l2 - l1) / s_l, (c2 - c1) / s_c, 2 * Math.sqrt(c1 * c2) * Math.sin(dh / 2 * deg) / s_h];
  return Math.sqrt(x * x + y * y + z * z + r_t * y * z);
}

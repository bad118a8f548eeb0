// CIEDE2000. CPU twin: colorimetry `delta_e_2000`, with the same steps: hues stay directions, the mean
// hue is their bisector (G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1), 2005). Roots
// and quotients are what costs a device most: they are shared, and no hue becomes an angle.

fn seventh_power_ratio_root(c: f32) -> f32 {
    // sqrt(c^7 / (c^7 + 25^7)); the bound keeps (25/c)^7 in the range of f32.
    let r = 25.0 / max(c, 1e-3);
    let r2 = r * r;
    return inverseSqrt(1.0 + r2 * r2 * r2 * r);
}

// Square of the angle whose cosine is `1 - x`: 4 arcsin²(sqrt(x/2)) by the series of arcsin² (I. S. Gradshteyn,
// I. M. Ryzhik, "Table of Integrals, Series, and Products", 1.645.2) up to x^6. What is left out changes
// the rotation by less than 3e-7 of 60 degrees: at larger angles next to nothing is left of it.
fn square_of_angle(x: f32) -> f32 {
    return x * (2.0 + x * (1.0 / 3.0 + x * (4.0 / 45.0 + x * (1.0 / 35.0 + x * (16.0 / 1575.0 + x * (8.0 / 2079.0))))));
}

// A sine up to 60 degrees, to 1e-7: Taylor's.
fn sine_to_60(x: f32) -> f32 {
    let s = x * x;
    return x * (1.0 + s * (-1.0 / 6.0 + s * (1.0 / 120.0 + s * (-1.0 / 5040.0 + s / 362880.0))));
}

fn delta_e_2000(one: vec3f, two: vec3f) -> f32 {
    let g = 1.5 - 0.5 * seventh_power_ratio_root(0.5 * (length(one.yz) + length(two.yz)));
    let u = vec2f(g * one.y, one.z);
    let v = vec2f(g * two.y, two.z);
    let c1 = length(u);
    let c2 = length(v);
    let cm = 0.5 * (c1 + c2);
    let c12 = c1 * c2;
    let across = u.x * v.y - u.y * v.x;
    let acute = dot(u, v) > 0.0;
    // Exactly opposite hues: (h1 + h2)/2 of angles in 0..360 is 90 degrees past the one below 180.
    let upper = u.y > 0.0 || (u.y == 0.0 && u.x > 0.0);
    let turn = select(across, select(-1.0, 1.0, upper), across == 0.0);
    let side = select(-1.0, 1.0, turn > 0.0);
    let apart = side * vec2f(v.y * c1 - u.y * c2, u.x * c2 - v.x * c1);
    var mean = select(apart, u * c2 + v * c1, acute);
    mean = select(mean, u + v, c12 == 0.0);
    let square = dot(mean, mean);
    let inverse = inverseSqrt(max(square, 1e-36));
    // The bisector's square is 2 c1 c2 (c1 c2 ± u·v); from it comes the difference of hues, without loss
    // where they are near or opposite.
    let root = select(inverseSqrt(max(c12, 1e-36)), 0.0, c12 == 0.0);
    let dh = select(side * square * root, 2.0 * across * c12 * root, acute) * inverse;
    mean = select(mean * inverse, vec2f(1.0, 0.0), square == 0.0);

    let cos1 = mean.x;
    let sin1 = mean.y;
    let cos2 = 2.0 * cos1 * cos1 - 1.0;
    let sin2 = 2.0 * cos1 * sin1;
    let cos3 = cos2 * cos1 - sin2 * sin1;
    let sin3 = sin2 * cos1 + cos2 * sin1;
    let cos4 = 2.0 * cos2 * cos2 - 1.0;
    let sin4 = 2.0 * cos2 * sin2;
    // Cosines and sines of 30, 6 and 63 degrees.
    let t = 1.0 - 0.17 * (0.8660254 * cos1 + 0.5 * sin1) + 0.24 * cos2
        + 0.32 * (0.99452190 * cos3 - 0.10452846 * sin3)
        - 0.20 * (0.45399050 * cos4 + 0.89100652 * sin4);

    // The cosine of the mean hue less 275 degrees; in units of 25 degrees; nothing in the first quadrant.
    let away = 1.0 - (0.08715574 * cos1 - 0.99619470 * sin1);
    // (180 / (25 pi))^2.
    let two_theta = select(1.0471976 * exp(-5.2524902 * square_of_angle(away)), 0.0, cos1 > 0.0 && sin1 >= 0.0);
    let rt = -2.0 * seventh_power_ratio_root(cm) * sine_to_60(two_theta);

    let l = 0.5 * (one.x + two.x) - 50.0;
    let l50 = l * l;
    // One quotient for three, as the twin has it.
    let sl = 1.0 + 0.015 * l50 * inverseSqrt(20.0 + l50);
    let sc = 1.0 + 0.045 * cm;
    let sh = 1.0 + 0.015 * cm * t;
    let each = 1.0 / (sl * sc * sh);
    let dl = (two.x - one.x) * (sc * sh * each);
    let dc = (c2 - c1) * (sl * sh * each);
    let dhs = dh * (sl * sc * each);
    return sqrt(max(dl * dl + dc * dc + dhs * dhs + rt * dc * dhs, 0.0));
}

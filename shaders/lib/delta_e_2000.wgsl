// CIEDE2000. CPU twin: colorimetry `delta_e_2000`, with the same steps: hues stay directions, the mean
// hue is their bisector (G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1), 2005).

fn seventh_power_ratio_root(c: f32) -> f32 {
    // (c/25)^7 keeps f32 in range.
    let r = c / 25.0;
    let r7 = r * r * r * r * r * r * r;
    return sqrt(r7 / (r7 + 1.0));
}

fn delta_e_2000(one: vec3f, two: vec3f) -> f32 {
    let g = 1.0 + 0.5 * (1.0 - seventh_power_ratio_root(0.5 * (length(one.yz) + length(two.yz))));
    let u = vec2f(g * one.y, one.z);
    let v = vec2f(g * two.y, two.z);
    let c1 = length(u);
    let c2 = length(v);
    let cm = 0.5 * (c1 + c2);
    let c12 = c1 * c2;
    let across = u.x * v.y - u.y * v.x;
    let along = dot(u, v);
    let acute = along > 0.0;
    let half_square = select(c12 - along, across * across / max(c12 + along, 1e-20), acute);
    // Exactly opposite hues: (h1 + h2)/2 of angles in 0..360 is 90 degrees past the one below 180.
    let upper = u.y > 0.0 || (u.y == 0.0 && u.x > 0.0);
    let turn = select(across, select(-1.0, 1.0, upper), across == 0.0);
    let side = select(-1.0, 1.0, turn > 0.0);
    let dh = side * sqrt(2.0 * max(half_square, 0.0));
    let apart = side * vec2f(v.y * c1 - u.y * c2, u.x * c2 - v.x * c1);
    var mean = select(apart, u * c2 + v * c1, acute);
    mean = select(mean, u + v, c12 == 0.0);
    let size = length(mean);
    mean = select(mean / max(size, 1e-20), vec2f(1.0, 0.0), size == 0.0);

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

    // The mean hue turned back by 275 degrees, in units of 25 degrees; nothing in the first quadrant.
    let turned = vec2f(0.08715574 * cos1 - 0.99619470 * sin1, 0.08715574 * sin1 + 0.99619470 * cos1);
    let d = atan2(turned.y, turned.x) * 2.2918312;
    let two_theta = select(1.0471976 * exp(-d * d), 0.0, cos1 > 0.0 && sin1 >= 0.0);
    let rt = -2.0 * seventh_power_ratio_root(cm) * sin(two_theta);

    let l50 = (0.5 * (one.x + two.x) - 50.0) * (0.5 * (one.x + two.x) - 50.0);
    let dl = (two.x - one.x) / (1.0 + 0.015 * l50 / sqrt(20.0 + l50));
    let dc = (c2 - c1) / (1.0 + 0.045 * cm);
    let dhs = dh / (1.0 + 0.015 * cm * t);
    return sqrt(max(dl * dl + dc * dc + dhs * dhs + rt * dc * dhs, 0.0));
}

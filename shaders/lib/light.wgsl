// Light on a surface: lamps, an overcast sky, gloss. Needs `frame`.

const PI: f32 = 3.141592653589793;

// A lamp whose angular radius has a sine below this is a point. The formula for a ball has terms of 1 / sine^2,
// 2500 here, whose rounding in single precision is then 2e-4, a twentieth of a code value; a choice of ours.
const POINT: f32 = 0.02;

// Irradiance from a round lamp over that of a point of the same strength seen squarely. `cosine`: between
// normal and middle of the lamp; `sine_radius`: sine of its angular radius. The configuration factor from a
// plane element to a sphere, over its value when seen squarely (J. R. Howell, "A catalog of radiation
// transfer configuration factors", B-43): the lamp sets behind the element's horizon bit by bit.
fn lamp_share(cosine: f32, sine_radius: f32) -> f32 {
    if sine_radius < POINT || cosine >= sine_radius {
        return max(cosine, 0.0);
    }
    if cosine <= -sine_radius {
        return 0.0;
    }
    let h = 1.0 / sine_radius;
    let x = sqrt(h * h - 1.0);
    let sine = sqrt(1.0 - cosine * cosine);
    let y = clamp(-x * cosine / sine, -1.0, 1.0);
    let root = sqrt(1.0 - y * y);
    return max(0.0, (cosine * acos(y) - x * sine * root + h * h * atan(sine * root / x)) / PI);
}

// Irradiance under an overcast sky whose middle stands where `frame.sky` says, over that of an element
// which faces it, and light from the ground (B. Y. H. Liu and R. C. Jordan, "The long-term average
// performance of flat-plate solar-energy collectors", Solar Energy 7(2), 1963).
fn sky_share(direction: vec3<f32>) -> f32 {
    let up = dot(direction, frame.sky.xyz);
    return 0.5 * (1.0 + up) + 0.5 * frame.light.w * (1.0 - up);
}

// Finishes, by the number that the region table has: x: width of the facets' slopes (the alpha of
// Walter et al. 2007), y: reflectance seen squarely, z: 1 for metal, whose colour is its reflectance.
// Widths are choices of ours; 0.04 is a binder or varnish of refractive index 1.5, 0.033 a wax of 1.44
// (Fresnel: ((n - 1) / (n + 1)) squared).
fn finish_of(number: u32) -> vec3<f32> {
    switch number {
        case 1u: { return vec3(0.7, 0.04, 0.0); }
        case 2u: { return vec3(0.3, 0.033, 0.0); }
        case 3u: { return vec3(0.1, 0.04, 0.0); }
        case 4u: { return vec3(0.18, 0.04, 1.0); }
        default: { return vec3(0.0); }
    }
}

// C. Schlick, "An inexpensive BRDF model for physically-based rendering", Computer Graphics Forum 13(3), 1994.
fn schlick(square: vec3<f32>, grazing: f32, cosine: f32) -> vec3<f32> {
    return square + (max(vec3(grazing), square) - square) * pow(clamp(1.0 - cosine, 0.0, 1.0), 5.0);
}

// pi · D · G / (4 (n·l) (n·v)) of B. Walter et al., "Microfacet models for refraction through rough
// surfaces", EGSR 2007 (GGX, with Smith's shadowing of each direction by itself).
fn facets(alpha: f32, nl: f32, nv: f32, nh: f32) -> f32 {
    let a = alpha * alpha;
    let slope = nh * nh * (a - 1.0) + 1.0;
    let shadow = (nl + sqrt(a + (1.0 - a) * nl * nl)) * (nv + sqrt(a + (1.0 - a) * nv * nv));
    return a / (slope * slope * shadow);
}

// What a place sends to the eye. `normal` and `to_eye` of length 1; `open`: share of the sky that nothing of
// the object hides, 0..1; `finish`: see `finish_of`, 0 for none.
fn lit(colour: vec3<f32>, place: vec3<f32>, normal: vec3<f32>, to_eye: vec3<f32>, open: f32, number: u32) -> vec3<f32> {
    let finish = finish_of(number);
    let glossy = number != 0u;
    let square = mix(vec3(finish.y), colour, finish.z);
    let nv = max(dot(normal, to_eye), 1e-3);
    var diffuse = frame.light.x * open;
    var gloss = vec3(0.0);
    if glossy {
        gloss = schlick(square, 1.0 - finish.x, nv) * frame.light.x * open;
    }
    if frame.light.z > 0.0 {
        diffuse += frame.light.z * sky_share(normal) * open;
        if glossy {
            gloss += schlick(square, 1.0 - finish.x, nv) * frame.light.z * sky_share(reflect(-to_eye, normal)) * open;
        }
    }
    for (var i = 0; i < 2; i += 1) {
        let shine = select(frame.shine.xy, frame.shine.zw, i == 1);
        if shine.y <= 0.0 {
            continue;
        }
        let lamp = select(frame.lamps[0], frame.lamps[1], i == 1);
        var towards = lamp.xyz;
        var strength = shine.y;
        var sine_radius = shine.x;
        if lamp.w > 0.0 {
            // As strong as a far lamp at the middle of the object; elsewhere by the square of the distance.
            let way = lamp.xyz * lamp.w - place;
            let near = max(length(way), 1e-6);
            towards = way / near;
            strength *= (lamp.w / near) * (lamp.w / near);
            // A place on the lamp itself sees half of everything, not more; 0.999 keeps the roots above 0.
            sine_radius = min(sine_radius * lamp.w / near, 0.999);
        }
        let cosine = dot(normal, towards);
        let share = lamp_share(cosine, sine_radius);
        diffuse += strength * share;
        if glossy && share > 0.0 {
            let half_way = normalize(towards + to_eye);
            // A large lamp is mirrored larger: a choice of ours.
            let alpha = min(sqrt(finish.x * finish.x + 0.25 * sine_radius * sine_radius), 1.0);
            let f = schlick(square, 1.0, max(dot(half_way, to_eye), 0.0));
            gloss += f * (strength * share * facets(alpha, max(cosine, 1e-3), nv, max(dot(normal, half_way), 0.0)));
        }
    }
    return colour * (1.0 - finish.z) * diffuse + gloss;
}

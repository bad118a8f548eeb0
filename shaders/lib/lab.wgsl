// CIELAB, white D50 of W3C CSS Color Module Level 4. CPU twin: colorimetry `lab`. CIE 15:2018.
#import lib/adaptation

const LAB_EPSILON: f32 = 216.0 / 24389.0;
const LAB_KAPPA: f32 = 24389.0 / 27.0;

fn white_d50() -> vec3f {
    return vec3f(0.9642956764, 1.0, 0.8251046025);
}

fn lab_from_xyz_d50(xyz: vec3f) -> vec3f {
    let t = xyz * (1.0 / white_d50());
    let curved = pow(max(t, vec3f(LAB_EPSILON)), vec3f(1.0 / 3.0));
    let f = select((LAB_KAPPA * t + 16.0) / 116.0, curved, t > vec3f(LAB_EPSILON));
    return vec3f(116.0 * f.y - 16.0, 500.0 * (f.x - f.y), 200.0 * (f.y - f.z));
}

fn xyz_d50_from_lab(lab: vec3f) -> vec3f {
    let y = (lab.x + 16.0) / 116.0;
    let f = vec3f(y + lab.y / 500.0, y, y - lab.z / 200.0);
    let cube = f * f * f;
    return white_d50() * select((116.0 * f - 16.0) / LAB_KAPPA, cube, cube > vec3f(LAB_EPSILON));
}

fn lab_from_linear_srgb(rgb: vec3f) -> vec3f {
    return lab_from_xyz_d50(xyz_d50_from_linear_srgb(rgb));
}

fn linear_srgb_from_lab(lab: vec3f) -> vec3f {
    return linear_srgb_from_xyz_d50(xyz_d50_from_lab(lab));
}

fn lab_from_linear_p3(rgb: vec3f) -> vec3f {
    return lab_from_xyz_d50(xyz_d50_from_linear_p3(rgb));
}

fn linear_p3_from_lab(lab: vec3f) -> vec3f {
    return linear_p3_from_xyz_d50(xyz_d50_from_lab(lab));
}

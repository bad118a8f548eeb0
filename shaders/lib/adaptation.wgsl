// Between RGB spaces and the whites D50 and D65. CPU twins: colorimetry `Linear::to_xyz_d50`,
// `XyzD65::from` and so on. Whites, Bradford and matrices of W3C CSS Color Module Level 4, multiplied
// out exactly and printed to ten decimals; columns first.

// Bradford.
fn xyz_d65_from_xyz_d50(xyz: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(0.9554734215, -0.0283697093, 0.0123140149),
        vec3f(-0.0230984549, 1.0099953981, -0.0205076493),
        vec3f(0.0632592432, 0.0210414412, 1.3303659262),
    );
    return m * xyz;
}

// Bradford.
fn xyz_d50_from_xyz_d65(xyz: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(1.0479297925, 0.0296278088, -0.0092430406),
        vec3f(0.0229468706, 0.9904344268, 0.0150551915),
        vec3f(-0.0501922663, -0.0170737991, 0.7518742814),
    );
    return m * xyz;
}

// sRGB primaries, then Bradford.
fn xyz_d50_from_linear_srgb(rgb: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(0.4360657469, 0.2224931771, 0.0139239215),
        vec3f(0.3851515096, 0.7168870131, 0.0970813242),
        vec3f(0.1430784200, 0.0606198098, 0.7140993568),
    );
    return m * rgb;
}

// The inverse.
fn linear_srgb_from_xyz_d50(xyz: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(3.1341358529, -0.9787954766, 0.0719553926),
        vec3f(-1.6173859980, 1.9162543774, -0.2289767598),
        vec3f(-0.4906622179, 0.0334428734, 1.4053860351),
    );
    return m * xyz;
}

// Display P3 primaries, then Bradford.
fn xyz_d50_from_linear_p3(rgb: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(0.5151464430, 0.2412003221, -0.0010501391),
        vec3f(0.2920099821, 0.6922225411, 0.0418782702),
        vec3f(0.1571392514, 0.0665771367, 0.7842764715),
    );
    return m * rgb;
}

// The inverse.
fn linear_p3_from_xyz_d50(xyz: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(2.4039341219, -0.8422700161, 0.0481938169),
        vec3f(-0.9900304425, 1.7989580161, -0.0973851982),
        vec3f(-0.3976136318, 0.0160456248, 1.2736713693),
    );
    return m * xyz;
}

// The white is the same.
fn linear_srgb_from_linear_p3(rgb: vec3f) -> vec3f {
    let m = mat3x3f(
        vec3f(1.2249401763, -0.0420569547, -0.0196375546),
        vec3f(-0.2249401763, 1.0420569547, -0.0786360456),
        vec3f(0.0000000000, 0.0000000000, 1.0982736001),
    );
    return m * rgb;
}

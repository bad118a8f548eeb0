//! The colour functions of `shaders/lib`: they parse, validate, and hold the same table.

use ganosis_colorimetry::band_map::BAND_MAP_AB;

fn source(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../shaders/lib/");
    std::fs::read_to_string(format!("{folder}{name}.wgsl")).expect("shader file")
}

#[test]
fn colour_functions_validate_together_and_alone() {
    let names = [
        "adaptation",
        "lab",
        "transfer",
        "delta_e_2000",
        "gamut",
        "band_map",
    ];
    let texts = names.map(|n| source(n).replace("#import lib/adaptation", ""));
    let all = texts.concat();
    for forbidden in ["@compute", "storage", "textureStore", "atomic"] {
        assert!(!all.contains(forbidden), "WebGL2 has no {forbidden}");
    }
    let module = naga::front::wgsl::parse_str(&all).expect("the functions parse together");
    let flags = naga::valid::ValidationFlags::all();
    let capabilities = naga::valid::Capabilities::empty();
    naga::valid::Validator::new(flags, capabilities)
        .validate(&module)
        .expect("they validate");
    for name in [
        "encode_srgb",
        "lab_from_linear_srgb",
        "delta_e_2000",
        "in_gamut",
        "band_map_lab",
    ] {
        let found = module
            .functions
            .iter()
            .any(|(_, f)| f.name.as_deref() == Some(name));
        assert!(found, "{name} is missing");
    }
}

#[test]
fn band_map_has_the_knots_of_the_crate() {
    let text = source("band_map");
    let knots: Vec<[f64; 2]> = text
        .lines()
        .filter_map(|l| l.trim().strip_prefix("vec2f(")?.strip_suffix("),"))
        .map(|l| {
            let (a, b) = l.split_once(", ").expect("a pair");
            [a.parse().expect("a*"), b.parse().expect("b*")]
        })
        .collect();
    assert_eq!(knots, BAND_MAP_AB);
}

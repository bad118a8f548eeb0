//! Values printed in the W3C Web Platform Tests (css/css-color, BSD-3-Clause), and the syntax.

use super::*;
use crate::delta_e::{delta_e_2000, delta_e_ab};
use crate::rgb::Rec2020Camera;

fn read(text: &str) -> CssColour {
    text.parse()
        .unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn refused(text: &str) -> CssError {
    text.parse::<CssColour>().expect_err(text)
}

#[test]
fn the_colours_of_the_web_platform_tests_are_the_same_colour() {
    // Files a98rgb-001, display-p3-001, prophoto-rgb-001, xyz-001, xyz-d50-001, lab-001, oklab-001:
    // all green, #008000. lab-005, lch-006, oklab-007, oklch-005, oklch-007: against rgb().
    let pairs = [
        ("color(a98-rgb 0.281363 0.498012 0.116746)", "#008000"),
        ("color(display-p3 0.21604 0.49418 0.13151)", "#008000"),
        ("color(prophoto-rgb 0.230479 0.395789 0.129968)", "#008000"),
        ("color(xyz 0.07719 0.15438 0.02573)", "#008000"),
        ("color(xyz-d65 0.07719 0.15438 0.02573)", "#008000"),
        ("lab(46.277% -47.562 48.583)", "#008000"),
        ("oklab(51.975% -0.1403 0.10768)", "#008000"),
        ("lab(70% -45 0)", "rgb(10.751% 75.558% 66.398%)"),
        ("lch(70% 70 90)", "rgb(76.6254% 66.3607% 5.5775%)"),
        ("oklab(55% 0 -0.2)", "rgb(27.888% 38.072% 89.414%)"),
        ("oklch(50% 0.2 270)", "rgb(23.056% 31.73% 82.628%)"),
        ("oklch(55% 0.15 345)", "rgb(67.293% 27.791% 52.28%)"),
        ("color(srgb-linear 1 1 1)", "color(srgb 1 1 1)"),
    ];
    for (one, two) in pairs {
        let difference = delta_e_2000(read(one).to_lab(), read(two).to_lab());
        assert!(difference < 0.05, "{one} {two}: {difference}");
        let codes = |text: &str| read(text).converted(CssSpace::Rgb).components;
        for (a, b) in codes(one).into_iter().zip(codes(two)) {
            let (a, b) = (a.expect("a number"), b.expect("a number"));
            assert!((a - b).abs() < 0.25 / 255.0, "{one} {two}: {a} {b}");
        }
    }
    // rec2020-001 was printed when the standard still had the curve of the camera.
    let older = Encoded::<Rec2020Camera>::new(0.235202, 0.431704, 0.085432);
    assert!(delta_e_2000(older.into(), read("#008000").to_lab()) < 0.05);
}

#[test]
fn one_colour_in_every_syntax() {
    // CSS Color 4, sections 4.2, 5.1 and 5.2 (from memory).
    let same = [
        "#0f38",
        "#00ff3388",
        "rgb(0 255 51 / 53.33333333%)",
        "rgba(0, 255, 51, 0.5333333333)",
        "rgb(0%, 100%, 20%, 53.33333333%)",
        " RGB( 0 255 51/.5333333333 ) ",
        "rgb(none 255 51 / 53.33333333%)",
        "rgb(-20 300 5.1e1 / 53.33333333%)",
    ];
    let want = read(same[0]);
    for text in same {
        let got = read(text);
        assert!(delta_e_ab(got.to_lab(), want.to_lab()) < 1e-9, "{text}");
        let alpha = got.alpha.expect("alpha") - want.alpha.expect("alpha");
        assert!(alpha.abs() < 1e-9, "{text}");
    }
    for (text, space, components) in [
        ("lab(50% 50% -100%)", CssSpace::Lab, [50.0, 62.5, -125.0]),
        (
            "lab(29.2345 39.3825 20.0664)",
            CssSpace::Lab,
            [29.2345, 39.3825, 20.0664],
        ),
        (
            "lch(52.2345% 72.2 56.2)",
            CssSpace::Lch,
            [52.2345, 72.2, 56.2],
        ),
        ("lch(50 100% 0.5turn)", CssSpace::Lch, [50.0, 150.0, 180.0]),
        ("lch(50 -3 100grad)", CssSpace::Lch, [50.0, 0.0, 90.0]),
        (
            "oklch(0.4 50% 3.141592653589793rad)",
            CssSpace::Oklch,
            [0.4, 0.2, 180.0],
        ),
        ("oklab(140% -50% 100%)", CssSpace::Oklab, [1.0, -0.2, 0.4]),
        (
            "color(rec2020 -0.5 120% 1e-3)",
            CssSpace::Rec2020,
            [-0.5, 1.2, 0.001],
        ),
        (
            "color(XYZ-D50 10% 0.2 0.3)",
            CssSpace::XyzD50,
            [0.1, 0.2, 0.3],
        ),
    ] {
        let got = read(text);
        assert_eq!(got.space, space, "{text}");
        for (got, want) in got.components.into_iter().zip(components) {
            assert!(
                (got.expect("a number") - want).abs() < 1e-12,
                "{text}: {got:?}"
            );
        }
    }
    assert_eq!(
        read("lab(50 none 3 / none)").components,
        [Some(50.0), None, Some(3.0)]
    );
    assert_eq!(read("lab(50 none 3 / none)").alpha, None);
}

#[test]
fn what_is_written_reads_back_in_every_space() {
    let labs = [
        [43.5, 61.0, 45.0],
        [96.0, 0.0, 0.0],
        [22.0, 18.0, -47.0],
        [60.0, -40.0, -9.0],
    ];
    for lab in labs.map(LabD50::from_array) {
        for space in CssSpace::ALL {
            let colour = CssColour::from_lab(lab, space);
            assert!(delta_e_ab(colour.to_lab(), lab) < 1e-7, "{colour}");
            let again = read(&colour.to_string());
            assert_eq!(again.space, space, "{colour}");
            // rgb() is clamped when read.
            if space != CssSpace::Rgb || colour == read("#f5f5f5") {
                let difference = delta_e_ab(again.to_lab(), lab);
                assert!(difference < 2e-3, "{colour}: {difference}");
            }
            assert_eq!(again.to_string(), read(&again.to_string()).to_string());
        }
    }
    for text in [
        "#c02b1d",
        "#c02b1d80",
        "lab(43.5 61 45)",
        "lch(50 none 180 / 0.5)",
        "rgb(12.5 0 255)",
        "color(display-p3 0.7 0.2 -0.05)",
        "color(xyz-d65 0.1 0.2 0.3 / none)",
        "oklch(0.5 0.1 30)",
    ] {
        assert_eq!(read(text).to_string(), text);
    }
    assert_eq!(
        format!("{:.1}", read("lab(43.512 61.04 -0.01)")),
        "lab(43.5 61 0)"
    );
}

#[test]
fn mistakes_are_said_with_their_column() {
    let column = |text: &str| match refused(text) {
        CssError::Hash { column, .. }
        | CssError::Function { column, .. }
        | CssError::Space { column, .. }
        | CssError::Unit { column, .. }
        | CssError::Unexpected { column, .. } => column,
        CssError::Empty => 0,
    };
    for (text, want) in [
        ("", 0),
        ("  ", 0),
        ("#12345", 1),
        ("#ggg", 1),
        ("  #12", 3),
        ("hsl(1 2% 3%)", 1),
        ("red", 1),
        ("lab 1 2 3", 5),
        ("lab(1 2)", 8),
        ("lab(1 2 3", 10),
        ("lab(1 2 3) x", 12),
        ("lab(1, 2, 3)", 6),
        ("rgb(1, 2 3)", 10),
        ("rgb(1, none, 3)", 8),
        ("lab(1 2 3 4)", 11),
        ("lab(1 2 3 / x)", 13),
        ("lch(1 2 3%)", 9),
        ("lab(1 2deg 3)", 7),
        ("lab(1 2 3px)", 9),
        ("color(p3 1 1 1)", 7),
        ("color(lab 1 1 1)", 7),
        ("color(1 1 1)", 7),
        ("lab(1 2 §)", 9),
        ("lab(1 - 3)", 7),
        ("lab(1e999 0 0)", 5),
        ("lab(NaN 0 0)", 5),
        ("(1 2 3)", 1),
        ("lab(43,5 61 45)", 7),
    ] {
        assert_eq!(column(text), want, "{text}: {}", refused(text));
    }
}

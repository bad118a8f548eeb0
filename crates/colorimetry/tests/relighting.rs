//! Colours under other lamps, and pairs that match only in daylight.

mod common;

use common::{Row, number, table};
use ganosis_colorimetry::illuminant::lab_d50_of;
use ganosis_colorimetry::relight::{Adaptation, Relighting, metamers, see_under};
use ganosis_colorimetry::{
    CieIlluminant, LabD50, Lamp, Observer, Spectrum, delta_e_2000, delta_e_ab,
};

const D50: Lamp = Lamp::Cie(CieIlluminant::D50);

fn chart() -> Vec<Spectrum> {
    let rows = table("chart24_reflectance.csv");
    (1..=24)
        .map(|patch| {
            let value = |r: &Row| {
                (
                    0,
                    number(r, "wavelength_nm"),
                    number(r, &format!("p{patch:02}")),
                )
            };
            Spectrum::from_rows(&rows.iter().map(value).collect::<Vec<_>>()).expect("a spectrum")
        })
        .collect()
}

#[test]
fn chart_under_other_lamps_is_what_colour_science_computes() {
    // As in the script: straight lines from the 5 nm of the table to 1 nm.
    let fine = |s: &Spectrum| {
        let values = (380..=780).map(|nm| s.at_linear(f64::from(nm)));
        Spectrum::from_grid(380.0, 1.0, values.collect()).expect("a spectrum")
    };
    let chart: Vec<_> = chart().iter().map(fine).collect();
    let rows = table("relight_examples.csv");
    let mut worst: f64 = 0.0;
    for row in &rows {
        let lamp: Lamp = row["lamp"].parse().expect("a lamp");
        let observer = match row["observer"].as_str() {
            "2" => Observer::TwoDegree,
            _ => Observer::TenDegree,
        };
        let spectrum = &chart[number(row, "patch") as usize - 1];
        for (adaptation, prefix) in [
            (Adaptation::ToLamp, "adapted"),
            (Adaptation::ToDisplay, "unadapted"),
        ] {
            let want = ["L", "a", "b"].map(|c| number(row, &format!("{prefix}_{c}")));
            let seen = see_under(spectrum, &lamp, observer, adaptation);
            worst = worst.max(delta_e_ab(seen.shown, LabD50::from_array(want)));
            assert!((seen.xyz.y - number(row, "Y")).abs() < 1e-6);
            let relighting = Relighting::new(&lamp, observer, adaptation, spectrum);
            let same = relighting.see(spectrum.values()).expect("one grid");
            assert!(delta_e_ab(same.shown, seen.shown) < 1e-9);
        }
    }
    assert_eq!(rows.len(), 144);
    assert!(worst < 1e-4, "{worst}");
}

#[test]
fn daylight_leaves_a_palette_as_it_is_and_white_is_white() {
    for spectrum in &chart() {
        let seen = see_under(spectrum, &D50, Observer::TwoDegree, Adaptation::ToLamp);
        let difference = delta_e_2000(seen.shown, lab_d50_of(spectrum));
        assert!(difference < 0.01, "{difference}");
    }
    let like = Spectrum::from_grid(380.0, 10.0, vec![1.0; 40]).expect("a spectrum");
    let lamp: Lamp = "candle".parse().expect("a lamp");
    let white = |adaptation| Relighting::new(&lamp, Observer::TwoDegree, adaptation, &like).white();
    let adapted = white(Adaptation::ToLamp);
    assert!(delta_e_ab(adapted, LabD50::new(100.0, 0.0, 0.0)) < 1e-9);
    let tinted = white(Adaptation::ToDisplay);
    assert!(
        (tinted.l - 100.0).abs() < 10.0 && tinted.b > 60.0,
        "candlelight beside a display is orange: {tinted:?}"
    );
}

/// A spectrum that differs from `base` by what D50 cannot show: the difference of two bell curves
/// and a third, weighted so that X, Y and Z stay.
fn metamer_of(base: &Spectrum, size: f64) -> Spectrum {
    let (first, _, step) = base.grid_nm();
    let bell = |centre: f64, i: usize| {
        let d = (first + step * i as f64 - centre) / 18.0;
        (-0.5 * d * d).exp()
    };
    let centres = [450.0, 500.0, 550.0, 600.0];
    let xyz = |centre: f64| {
        let values = (0..base.values().len()).map(|i| bell(centre, i)).collect();
        let curve = Spectrum::from_grid(first, step, values).expect("a curve");
        D50.xyz_of(&curve, Observer::TwoDegree).to_array()
    };
    let columns = centres.map(xyz);
    let matrix = std::array::from_fn(|r| std::array::from_fn(|c| columns[c][r]));
    let inverse = ganosis_colorimetry::matrix::inverse(&matrix);
    let rest = ganosis_colorimetry::matrix::apply(&inverse, columns[3].map(|v| -v));
    let factors = [rest[0], rest[1], rest[2], 1.0];
    let values = base.values().iter().enumerate().map(|(i, v)| {
        let bells = factors.iter().zip(centres).map(|(f, c)| f * bell(c, i));
        v + size * bells.sum::<f64>()
    });
    Spectrum::from_grid(first, step, values.collect()).expect("no negative values")
}

#[test]
fn a_pair_that_matches_only_in_daylight_is_found_and_others_are_not() {
    let grey = Spectrum::from_grid(380.0, 5.0, vec![0.4; 81]).expect("a spectrum");
    let double = metamer_of(&grey, 0.2);
    let near = Spectrum::from_grid(380.0, 5.0, vec![0.403; 81]).expect("a spectrum");
    let far = Spectrum::from_grid(380.0, 5.0, vec![0.6; 81]).expect("a spectrum");
    let palette = [&far, &grey, &near, &double];
    let found = metamers(&palette, &"A".parse().expect("a lamp"), Observer::TwoDegree);
    let pairs: Vec<_> = found.iter().map(|m| (m.first, m.second)).collect();
    assert!(
        pairs.contains(&(1, 3)) && pairs.contains(&(2, 3)),
        "{found:?}"
    );
    assert_eq!(pairs.len(), 2, "{found:?}");
    assert!(
        found
            .iter()
            .all(|m| m.under_d50 <= 1.0 && m.under_lamp > 2.0)
    );
    assert!(found[0].under_lamp >= found[1].under_lamp);
    assert!(metamers(&palette, &D50, Observer::TwoDegree).is_empty());
}

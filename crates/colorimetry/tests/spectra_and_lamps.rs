//! Spectra, weights and lamps against published tables and colour-science (`tests/reference`).

mod common;

use common::{number, table};
use ganosis_colorimetry::lamp_quality::{
    correlated_temperature, fidelity, lamp_temperature, rendering,
};
use ganosis_colorimetry::spectrum::{Interpolation, SpectrumError as E};
use ganosis_colorimetry::weights::Weights;
use ganosis_colorimetry::{Lamp, Observer, Spectrum};

fn lamp(name: &str) -> Lamp {
    name.parse().expect("a lamp")
}

#[test]
fn weights_are_those_of_astm_e2022() {
    let rows = table("weights_e2022.csv");
    let mut worst: f64 = 0.0;
    for name in ["D50", "A", "LED-B3"] {
        for (observer, degrees) in [(Observer::TwoDegree, "2"), (Observer::TenDegree, "10")] {
            for step in ["5", "10", "20"] {
                let of: Vec<_> = (rows.iter())
                    .filter(|r| {
                        r["lamp"] == name && r["observer"] == degrees && r["step_nm"] == step
                    })
                    .collect();
                let grid =
                    Spectrum::from_grid(380.0, number(of[0], "step_nm"), vec![0.5; of.len()]);
                let weights = Weights::new(&lamp(name), observer, &grid.expect("a grid"));
                for (got, row) in weights.factors().iter().zip(&of) {
                    for (got, column) in got.iter().zip(["x", "y", "z"]) {
                        worst = worst.max((100.0 * got - number(row, column)).abs());
                    }
                }
            }
        }
    }
    assert!(rows.len() > 800 && worst < 2e-6, "{worst}");
}

#[test]
fn weights_give_what_the_sum_gives_on_every_grid() {
    for (step, count) in [(1.0, 381), (5.0, 67), (10.0, 36), (20.0, 18)] {
        // 370 nm or 400 nm to 700 nm or more: longer and shorter than the observer.
        for start in [370.0, 400.0] {
            let value = |i: usize| 0.4 + 0.3 * (i as f64 * step / 60.0).sin();
            let spectrum = Spectrum::from_grid(start, step, (0..count).map(value).collect());
            let spectrum = spectrum.expect("a spectrum");
            let weights = Weights::new(&lamp("LED-B3"), Observer::TenDegree, &spectrum);
            let got = weights
                .xyz_of(spectrum.values())
                .expect("one grid")
                .to_array();
            let want = lamp("LED-B3")
                .xyz_of(&spectrum, Observer::TenDegree)
                .to_array();
            assert!(
                (0..3).all(|k| (got[k] - want[k]).abs() < 1e-12),
                "{step} {start}"
            );
            assert!(weights.xyz_of(&[0.5; 7]).is_err());
        }
    }
}

#[test]
fn values_between_readings_are_those_of_sprague_and_of_straight_lines() {
    let rows = table("interpolation_examples.csv");
    let known: Vec<_> = (rows.iter().enumerate())
        .filter(|(_, r)| r["kind"] == "known")
        .map(|(i, r)| (i, number(r, "wavelength_nm"), number(r, "sprague")))
        .collect();
    let spectrum = Spectrum::from_rows(&known).expect("a spectrum");
    for row in &rows {
        let nm = number(row, "wavelength_nm");
        for (method, column) in [
            (Interpolation::Sprague, "sprague"),
            (Interpolation::Linear, "linear"),
        ] {
            let (got, want) = (spectrum.at_by(nm, method), number(row, column));
            assert!(
                (got - want).abs() < 1e-9,
                "{column} at {nm}: {got} for {want}"
            );
        }
    }
    assert_eq!(rows.len(), 35);
    // Every method goes through the readings and holds the ends.
    for method in [
        Interpolation::Sprague,
        Interpolation::Linear,
        Interpolation::Lagrange,
    ] {
        assert!((spectrum.at_by(420.0, method) - known[2].2).abs() < 1e-12);
        assert!((spectrum.at_by(300.0, method) - known[0].2).abs() < 1e-12);
        assert!((spectrum.at_by(900.0, method) - known[20].2).abs() < 1e-12);
    }
}

#[test]
fn temperature_and_duv_are_those_of_ohno() {
    let rows = table("cct_examples.csv");
    for row in &rows {
        let found = correlated_temperature([number(row, "u"), number(row, "v")]);
        let (kelvin, duv) = (number(row, "cct_k"), number(row, "duv"));
        // Ohno's table is interpolated, and the package's c2 is that of CODATA.
        assert!(
            (found.kelvin / kelvin - 1.0).abs() < 2e-4,
            "{found:?} for {kelvin} {duv}"
        );
        assert!(
            (found.duv - duv).abs() < 5e-6,
            "{found:?} for {kelvin} {duv}"
        );
    }
    assert_eq!(rows.len(), 60);
    assert!(!correlated_temperature([0.1, 0.55]).is_meaningful());
}

#[test]
fn lamps_have_the_indices_that_colour_science_finds() {
    for row in &table("lamp_quality.csv") {
        let (name, lamp) = (&row["lamp"], lamp(&row["lamp"]));
        let close = |got: f64, column: &str, tolerance: f64| {
            let want = number(row, column);
            assert!(
                (got - want).abs() < tolerance,
                "{name} {column}: {got} for {want}"
            );
        };
        let temperature = lamp_temperature(&lamp);
        // The package's locus is that of 360 to 830 nm, its lamp ends at 780 nm like ours.
        close(temperature.kelvin, "cct_k", 1e-3 * temperature.kelvin);
        close(temperature.duv, "duv", 5e-5);
        // The package finds the reference's temperature by Robertson's table.
        let found = rendering(&lamp);
        close(found.ra, "Ra", 0.15);
        for (i, special) in found.special.iter().enumerate() {
            close(*special, &format!("R{}", i + 1), 0.5);
        }
        let found = fidelity(&lamp);
        assert_eq!(found.samples.len(), 99);
        close(found.rf, "Rf", 0.02);
        for (i, column) in [(0, "Rf1"), (49, "Rf50"), (98, "Rf99")] {
            close(found.samples[i], column, 0.1);
        }
    }
}

#[test]
fn fluorescent_lamps_have_the_indices_that_the_cie_prints() {
    // CIE 15, table T.8 (from memory): FL2 4230 K, Ra 64; FL7 6500 K, Ra 90; FL11 4000 K, Ra 83.
    for (name, kelvin, ra) in [
        ("FL2", 4230.0, 64.0),
        ("FL7", 6500.0, 90.0),
        ("FL11", 4000.0, 83.0),
    ] {
        assert_eq!(rendering(&lamp(name)).ra.round(), ra, "{name}");
        assert!(
            (lamp_temperature(&lamp(name)).kelvin - kelvin).abs() < 12.0,
            "{name}"
        );
    }
}

fn csv(separator: &str, row: impl Fn(usize) -> (String, String)) -> String {
    (0..36).fold(format!("nm{separator}R\n"), |text, i| {
        let (nm, value) = row(i);
        format!("{text}{nm}{separator}{value}\n")
    })
}

fn nm(i: usize) -> String {
    (380 + 10 * i).to_string()
}

#[test]
fn spectra_that_cannot_be_right_are_refused_with_their_line() {
    let good = csv(",", |i| (nm(i), "0.5".into()));
    assert!(Spectrum::reflectance_from_csv(&good).is_ok());
    let read = |text: &str| Spectrum::reflectance_from_csv(text).expect_err("refused");
    let percent = csv(",", |i| (nm(i), "50".into()));
    assert!(matches!(read(&percent), E::Percent { .. }));
    assert!(matches!(
        read(&good.replace("nm,R", "nm,R (%)")),
        E::Percent { .. }
    ));
    let falling = csv(",", |i| ((730 - 10 * i).to_string(), "0.5".into()));
    assert!(matches!(read(&falling), E::Descending { .. }));
    assert!(matches!(
        read(&good.replace("440,", "450,")),
        E::Order { line: 9, .. }
    ));
    assert!(matches!(
        read(&good.replace("440,0.5\n", "")),
        E::Gap { line: 8, .. }
    ));
    assert!(matches!(
        read(&good.replace("440,", "445,")),
        E::Gap { line: 8, .. }
    ));
    assert!(matches!(
        read(&good.replace("430,0.5", "430,NaN")),
        E::BadValue { line: 7, .. }
    ));
    assert!(matches!(
        read(&good.replace("430,0.5", "430,-0.5")),
        E::BadValue { line: 7, .. }
    ));
    assert!(matches!(
        read(&good.replace("430,0.5", "430,x")),
        E::NotNumbers { line: 7, .. }
    ));
    assert!(matches!(read("nm,R\n400,1\n"), E::TooShort { found: 1 }));
    let micrometres = csv(",", |i| (format!("0.{}", nm(i)), "0.5".into()));
    assert!(matches!(read(&micrometres), E::Unit { line: 2, .. }));
    let coarse = csv(",", |i| ((380 + 25 * i).to_string(), "0.5".into()));
    assert!(matches!(read(&coarse), E::Coarse { .. }));
    let infrared = csv(",", |i| ((700 + 10 * i).to_string(), "0.5".into()));
    assert!(matches!(read(&infrared), E::Range { .. }));
    assert!(matches!(
        Spectrum::lamp_from_csv(&csv(",", |i| (nm(i), "0".into()))),
        Err(E::Dark)
    ));
}

#[test]
fn decimal_commas_are_read_or_recognised() {
    let want = Spectrum::from_csv(&csv(",", |i| (nm(i), format!("0.{}", 100 + i))));
    for separator in [";", "\t"] {
        let text = csv(separator, |i| {
            (format!("{},0", nm(i)), format!("0,{}", 100 + i))
        });
        assert_eq!(Spectrum::from_csv(&text), want);
    }
    let ambiguous = csv(",", |i| (nm(i), format!("0,{}", 100 + i)));
    let error = Spectrum::from_csv(&ambiguous).expect_err("three columns");
    assert!(matches!(error, E::DecimalComma { line: 2, .. }), "{error}");
}

#[test]
fn uneven_steps_of_a_grating_are_resampled_and_a_missing_row_is_not() {
    let at = |i: usize| 380.0 + 0.55 * i as f64 - 1e-5 * (i * i) as f64;
    let value = |nm: f64| 0.5 + 0.3 * (nm / 50.0).sin();
    let mut rows: Vec<_> = (0..640).map(|i| (i + 1, at(i), value(at(i)))).collect();
    let spectrum = Spectrum::from_rows(&rows).expect("fine steps");
    assert_eq!(spectrum.grid_nm(), (380.0, 727.0, 1.0));
    for nm in 390..720 {
        let nm = f64::from(nm);
        assert!((spectrum.at(nm) - value(nm)).abs() < 1e-4, "{nm}");
    }
    rows.remove(300);
    assert!(matches!(
        Spectrum::from_rows(&rows),
        Err(E::Gap { line: 302, .. })
    ));
}

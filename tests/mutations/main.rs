//! A sound dossier, one defect at a time, and what the audit says of it.
//!
//! [`sound`] is the dossier; [`defects`] is the list of mutations, each with
//! the finding it must lead to. To add a kind of defect, add a row there.

#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod areas;
mod defects;
mod injection;
mod sound;

use ganosis_audit::{Audit, Severity};
use sound::Scene;

fn audit(scene: &Scene) -> Audit {
    ganosis_audit::run(&scene.document, scene)
}

fn told(audit: &Audit) -> Vec<(String, String)> {
    let findings = audit.findings.iter();
    findings
        .map(|f| (f.rule.to_owned(), f.about.clone()))
        .collect()
}

#[test]
fn nothing_is_said_of_the_sound_dossier() {
    let audit = audit(&sound::scene());
    assert!(audit.findings.is_empty(), "{:#?}", audit.findings);
    assert!(audit.not_examined.is_empty(), "{:?}", audit.not_examined);
    assert!(!audit.remains(Severity::Note));
}

#[test]
fn every_defect_is_found_and_nothing_else_is_said() {
    let mut wrong = Vec::new();
    for defect in defects::DEFECTS {
        let mut scene = sound::scene();
        (defect.make)(&mut scene);
        let told = told(&audit(&scene));
        let wanted = (defect.rule.to_owned(), defect.about.to_owned());
        if !told.contains(&wanted) {
            wrong.push(format!("{}: wanted {wanted:?}, got {told:?}", defect.name));
        }
        let more: Vec<_> = told
            .iter()
            .filter(|t| **t != wanted && !defect.also.contains(&t.0.as_str()))
            .collect();
        if !more.is_empty() {
            wrong.push(format!("{}: also said {more:?}", defect.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_place_in_a_sentence_is_filled_and_its_key_is_that_of_its_rule() {
    let mut said = 0;
    for defect in defects::DEFECTS {
        let mut scene = sound::scene();
        (defect.make)(&mut scene);
        for finding in audit(&scene).findings {
            let told = &finding.told;
            assert!(!told.message.contains(['{', '}']), "{}", told.message);
            assert_eq!(told.key.split('.').next(), Some(finding.rule));
            said += 1;
        }
    }
    assert!(said >= defects::DEFECTS.len());
}

#[test]
fn there_are_many_kinds_of_defect_and_each_rule_has_one() {
    assert!(defects::DEFECTS.len() >= 30, "{}", defects::DEFECTS.len());
    for rule in &ganosis_audit::tables::tables().rules {
        let has = defects::DEFECTS.iter().any(|defect| defect.rule == rule.id);
        assert!(has, "no defect leads to {}", rule.id);
    }
    let mut names: Vec<&str> = defects::DEFECTS.iter().map(|defect| defect.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(
        names.len(),
        defects::DEFECTS.len(),
        "two defects of one name"
    );
}

#[test]
fn a_finding_is_set_aside_with_a_reason_and_not_without() {
    for defect in defects::DEFECTS
        .iter()
        .filter(|d| d.rule != "unknown-rule-set-aside")
    {
        let mut scene = sound::scene();
        (defect.make)(&mut scene);
        scene.set_aside(defect.rule, defect.about, "Looked at; it may stand.");
        let with_reason = audit(&scene);
        let wanted = (defect.rule.to_owned(), defect.about.to_owned());
        assert!(!told(&with_reason).contains(&wanted), "{}", defect.name);
        let kept = &with_reason.set_aside;
        assert!(
            kept.iter().any(|s| s.finding.rule == defect.rule),
            "{}",
            defect.name
        );
        scene.document.set_aside[0].reason = "".into();
        assert!(told(&audit(&scene)).contains(&wanted), "{}", defect.name);
    }
}

#[test]
fn numbers_in_findings_are_those_of_the_geometry() {
    let number = |name: &str, measure: &str| {
        let defect = defects::DEFECTS.iter().find(|d| d.name == name).unwrap();
        let mut scene = sound::scene();
        (defect.make)(&mut scene);
        let audit = audit(&scene);
        let finding = audit
            .findings
            .iter()
            .find(|f| f.rule == defect.rule)
            .unwrap();
        finding
            .measures
            .iter()
            .find(|m| m.name == measure)
            .unwrap()
            .value
    };
    // The plane is 200 mm wide, a texel is 1 mm. The spot at u = 0.60 lies
    // 120 - 80 = 40 mm from the edge of the red region.
    let mm = number("analysis-moved", "distance");
    assert!((mm - 40.0).abs() < 1.0, "{mm}");
    // Red and blue are 80 mm by 100 mm each.
    assert!((number("claim-removed", "area") - 80.0).abs() < 0.5);
    assert!((number("claim-removed", "share") - 50.0).abs() < 0.5);
    // Every texel of the region has the wrong colour.
    assert!(number("painted-otherwise", "median") > 20.0);
}

#[test]
fn without_mesh_and_images_nothing_is_guessed() {
    let scene = sound::scene();
    let audit = ganosis_audit::run(&scene.document, &ganosis_audit::NoSources);
    assert!(audit.findings.is_empty(), "{:#?}", audit.findings);
    assert_eq!(audit.not_examined.len(), 1);
}

#[test]
fn where_hypotheses_part_is_told_with_area_and_difference() {
    let scene = sound::scene();
    let audit = audit(&scene);
    let partings =
        ganosis_audit::compare::compare(&scene.document, "evidence", "guess", &audit.measures)
            .unwrap();
    let places: Vec<_> = partings
        .iter()
        .map(|p| (p.region.as_deref(), p.part.as_deref()))
        .collect();
    // Blue is claimed green in the hypothesis, and the bill is shown there only.
    assert_eq!(places, [(Some("blue"), None), (None, Some("bill"))]);
    let [blue, bill] = partings.as_slice() else {
        panic!()
    };
    assert!((blue.area_cm2.unwrap() - 80.0).abs() < 0.5);
    assert!((bill.area_cm2.unwrap() - 16.0).abs() < 0.1);
    let lab = |id: &str| {
        let entry = scene.document.palette.iter().find(|p| p.id == id).unwrap();
        ganosis_colorimetry::LabD50::from_array(entry.lab_d50.unwrap())
    };
    let want = ganosis_colorimetry::delta_e_2000(lab("azurite"), lab("malachite"));
    assert!((blue.delta_e_2000.unwrap() - want).abs() < 1e-12);
    assert!(bill.left.claims.is_empty() && bill.delta_e_2000.is_none());
    assert!(
        ganosis_audit::compare::compare(&scene.document, "evidence", "none", &audit.measures)
            .is_none()
    );
}

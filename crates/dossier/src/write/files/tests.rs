use super::*;

#[test]
fn a_file_is_written_once_and_never_over() {
    let dir = tempfile::tempdir().unwrap();
    let put = |path: &str, bytes: &[u8]| put_file(dir.path(), path, bytes);
    assert_eq!(put("evidence/x/a.csv", b"1").unwrap(), Put::Written);
    assert_eq!(put("evidence/x/a.csv", b"1").unwrap(), Put::Same);
    let error = put("evidence/x/a.csv", b"2").unwrap_err();
    let WriteError::Taken { free, .. } = &error else {
        panic!("{error}")
    };
    assert_eq!(free, "evidence/x/a-2.csv");
    assert_eq!(
        std::fs::read(dir.path().join("evidence/x/a.csv")).unwrap(),
        b"1"
    );
    assert_eq!(put(free, b"2").unwrap(), Put::Written);
    let names: Vec<_> = std::fs::read_dir(dir.path()).unwrap().collect();
    assert_eq!(names.len(), 1, "a temporary file was left");
}

#[test]
fn paths_that_climb_hide_or_do_not_travel_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let long = "a".repeat(131);
    for path in [
        "",
        "/etc/x.csv",
        "../x.csv",
        "a/../../x.csv",
        "a//x.csv",
        "./x.csv",
        "a\\x.csv",
        "c:x.csv",
        ".git/x.csv",
        "a/.x.csv",
        "a./x.csv",
        "a/x.csv.",
        "a/x.csv ",
        "a/nul.csv",
        "COM1",
        "a/x?.csv",
        "a/x%2f.csv",
        "a/x\u{0}.csv",
        "dossier.json",
        "DOSSIER.JSON",
        &long,
    ] {
        let error = put_file(dir.path(), path, b"x").unwrap_err();
        assert!(
            matches!(error, WriteError::Path(StoreError::BadPath { .. })),
            "{path}: {error}"
        );
    }
    assert!(std::fs::read_dir(dir.path()).unwrap().next().is_none());
    put_file(dir.path(), "Aufnahmen/Krone – Fleck 3.csv", b"x").unwrap();
}

#[cfg(unix)]
#[test]
fn nothing_is_written_through_a_link() {
    let (dir, outside) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    std::os::unix::fs::symlink(outside.path(), dir.path().join("evidence")).unwrap();
    std::os::unix::fs::symlink(outside.path().join("y"), dir.path().join("x.csv")).unwrap();
    assert!(put_file(dir.path(), "evidence/x.csv", b"x").is_err());
    assert!(put_file(dir.path(), "x.csv", b"x").is_err());
    assert!(std::fs::read_dir(outside.path()).unwrap().next().is_none());
}

//! The command as it is run: exit codes, output, address.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn ganosis(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args(arguments)
        .output()
        .unwrap()
}

fn check(path: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let mut arguments = vec!["check", path.to_str().unwrap()];
    arguments.extend(more);
    let out = ganosis(&arguments);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code(), text(out.stdout), text(out.stderr))
}

/// A whole, if small, dossier: a surface without images.
const GOOD: &str = r#"{"format": "ganosis-dossier/1", "id": "boss", "revision": 1, "title": "Boss",
    "rights": {"licence": "CC0-1.0"}, "surface": {"file": "s.gltf"}}"#;

fn dossier(json: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("dossier.json"), json).unwrap();
    std::fs::write(
        dir.path().join("s.gltf"),
        r#"{"asset": {"version": "2.0"}}"#,
    )
    .unwrap();
    dir
}

#[test]
fn check_exits_with_0_1_and_2() {
    let good = dossier(GOOD);
    let (code, out, err) = check(good.path(), &[]);
    assert_eq!((code, out.trim()), (Some(0), "nothing found"), "{err}");
    assert_eq!(check(&good.path().join("s.gltf"), &[]).0, Some(0));

    let faulty = dossier(&GOOD.replace("s.gltf", "none.glb"));
    let (code, out, _) = check(faulty.path(), &[]);
    assert_eq!(code, Some(1));
    for part in [
        "missing-file",
        "none.glb",
        "dossier.json",
        "$.surface.file",
        "do:",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let (code, out, _) = check(faulty.path(), &["--json"]);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (code, &value["findings"][0]["rule"]),
        (Some(1), &"missing-file".into())
    );

    let broken = dossier("{\n\"format\": }");
    let (code, _, err) = check(broken.path(), &[]);
    assert!(
        code == Some(2) && err.contains("line 2, column") && err.contains("do:"),
        "{err}"
    );
    assert_eq!(check(Path::new("/nowhere/at/all"), &[]).0, Some(2));
    std::fs::write(broken.path().join("x.glb"), "glTF").unwrap();
    assert_eq!(check(&broken.path().join("x.glb"), &[]).0, Some(2));
}

#[test]
fn audit_exits_with_0_1_and_2_and_writes_a_report() {
    let with = |claims: &str| GOOD.replace("\"surface\":", &format!("{claims}, \"surface\":"));
    let audit = |dir: &Path, more: &[&str]| {
        let mut arguments = vec!["audit", dir.to_str().unwrap()];
        arguments.extend(more);
        let out = ganosis(&arguments);
        (out.status.code(), String::from_utf8(out.stdout).unwrap())
    };
    let good = dossier(GOOD);
    let (code, out) = audit(good.path(), &[]);
    assert_eq!(code, Some(0), "{out}");
    assert!(out.contains("errors: 0, warnings: 0, notes: 0"), "{out}");

    let unused = with(r#""evidence": [{"id": "e", "technique": "document"}]"#);
    let unused = dossier(&unused);
    assert_eq!(
        audit(unused.path(), &[]).0,
        Some(0),
        "a note is below a warning"
    );
    assert_eq!(audit(unused.path(), &["--at-least", "note"]).0, Some(1));
    let (_, out) = audit(unused.path(), &["--json"]);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["findings"][0]["rule"], "unused-evidence");
    assert_eq!(value["findings"][0]["place"]["evidence"], "e");

    let bare = with(
        r#""claims": [{"id": "c", "states": [], "certainty": "measured", "argument": "<b>"}]"#,
    );
    let bare = dossier(&bare);
    let report = bare.path().join("report.html");
    let (code, out) = audit(bare.path(), &["--report", report.to_str().unwrap()]);
    assert!(
        code == Some(1) && out.contains("claim-without-evidence"),
        "{out}"
    );
    let html = std::fs::read_to_string(report).unwrap();
    assert!(html.starts_with("<!doctype html>") && html.contains("claim-without-evidence"));

    assert_eq!(audit(&good.path().join("s.gltf"), &[]).0, Some(2));
    assert_eq!(
        audit(&dossier("{").path().join("dossier.json"), &[]).0,
        Some(2)
    );
    assert_eq!(audit(good.path(), &["--at-least", "grave"]).0, Some(2));
}

/// Stands in for a browser: prints what it is told to and notes what it was asked.
#[cfg(unix)]
fn printer(folder: &Path, prints: &str) -> std::path::PathBuf {
    use std::os::unix::fs::PermissionsExt;
    let program = folder.join("printer");
    let script = format!(
        "#!/bin/sh\nfor a in \"$@\"; do case $a in --print-to-pdf=*) printf '{prints}' > \"${{a#*=}}\";; *.html) cp \"$a\" '{}/asked.html';; esac; done\n",
        folder.display()
    );
    std::fs::write(&program, script).unwrap();
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    program
}

#[test]
#[cfg(unix)]
fn a_report_is_printed_by_the_browser_named_and_its_failure_harms_nothing() {
    let good = dossier(GOOD);
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("report.pdf");
    let audit = |browser: &Path| {
        Command::new(env!("CARGO_BIN_EXE_ganosis"))
            .args(["audit", good.path().to_str().unwrap(), "--pdf"])
            .arg(&target)
            .env("CHROMIUM", browser)
            .output()
            .unwrap()
    };
    let out = audit(&printer(folder.path(), "%%PDF-1.7 pages"));
    assert!(out.status.success(), "{out:?}");
    assert_eq!(std::fs::read(&target).unwrap(), b"%PDF-1.7 pages");
    let asked = std::fs::read_to_string(folder.path().join("asked.html")).unwrap();
    assert!(asked.starts_with("<!doctype html>") && asked.contains("Boss"));
    assert!(asked.contains("@page { size: A4 }"));

    for browser in [
        printer(folder.path(), "an error page"),
        folder.path().join("not-there"),
    ] {
        let out = audit(&browser);
        let said = String::from_utf8(out.stderr).unwrap();
        assert!(
            out.status.code() == Some(2) && said.contains("--report"),
            "{said}"
        );
        assert_eq!(std::fs::read(&target).unwrap(), b"%PDF-1.7 pages", "kept");
    }
}

#[test]
#[cfg(unix)]
fn without_a_browser_a_pdf_is_refused_before_anything_is_written() {
    let good = dossier(GOOD);
    let folder = tempfile::tempdir().unwrap();
    let (pdf, html) = (folder.path().join("r.pdf"), folder.path().join("r.html"));
    let audit = |path: &str, more: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_ganosis"))
            .args(["audit", good.path().to_str().unwrap()])
            .args(more)
            // A variable that is set to nothing names no browser.
            .env("CHROMIUM", "")
            .env("PATH", path)
            .output()
            .unwrap()
    };
    let both = [
        "--pdf",
        pdf.to_str().unwrap(),
        "--report",
        html.to_str().unwrap(),
    ];
    let out = audit("", &both);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        out.status.code() == Some(2) && said.contains("Install it"),
        "{said}"
    );
    assert!(!html.exists() && !pdf.exists());

    let found = printer(folder.path(), "%%PDF-1.7 pages");
    std::fs::rename(found, folder.path().join("chromium")).unwrap();
    let path = format!("{}:/usr/bin:/bin", folder.path().display());
    let out = audit(&path, &both);
    assert!(out.status.success(), "{out:?}");
    assert!(html.exists() && pdf.exists());

    let out = audit("", &["--paper", "letter"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        out.status.code() == Some(2) && said.contains("--pdf"),
        "{said}"
    );
}

fn first_line_and_answer(path: &Path, target: &str) -> (String, String) {
    let viewer = tempfile::tempdir().unwrap();
    std::fs::write(viewer.path().join("index.html"), "viewer").unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args(["open", "--no-browser", "--port", "0", "--viewer"])
        .arg(viewer.path())
        .arg(path)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    let host = line
        .trim_start_matches("http://")
        .split('/')
        .next()
        .unwrap()
        .to_owned();
    let mut stream = std::net::TcpStream::connect(&host).unwrap();
    write!(
        stream,
        "GET {target} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    (line.trim().to_owned(), answer)
}

#[test]
fn open_prints_the_address_first_and_serves_there() {
    let good = dossier(GOOD);
    let (line, answer) = first_line_and_answer(good.path(), "/dossier/dossier.json");
    assert!(
        line.starts_with("http://127.0.0.1:") && line.ends_with("/?src=dossier/"),
        "{line}"
    );
    assert!(
        answer.starts_with("HTTP/1.1 200") && answer.ends_with(GOOD),
        "{answer}"
    );
    let model = good.path().join("s.gltf");
    let (line, answer) = first_line_and_answer(&model, "/dossier/dossier.json");
    assert!(line.ends_with("/?src=dossier/s.gltf"), "{line}");
    assert!(
        answer.starts_with("HTTP/1.1 404"),
        "a neighbour that is not named was given: {answer}"
    );
}

#[test]
fn open_says_what_is_missing() {
    let good = dossier(GOOD);
    let empty = tempfile::tempdir().unwrap();
    let out = ganosis(&[
        "open",
        good.path().to_str().unwrap(),
        "--viewer",
        empty.path().to_str().unwrap(),
    ]);
    let err = String::from_utf8(out.stderr).unwrap();
    assert!(
        out.status.code() == Some(2) && err.contains("index.html") && err.contains("do:"),
        "{err}"
    );
}

#[test]
fn only_a_folder_can_be_edited_and_others_are_told_what_to_do() {
    let dir = dossier(GOOD);
    let viewer = tempfile::tempdir().unwrap();
    std::fs::write(viewer.path().join("index.html"), "").unwrap();
    let zip = dir.path().join("boss.zip");
    let mut writer = zip::ZipWriter::new(std::fs::File::create(&zip).unwrap());
    let options = zip::write::SimpleFileOptions::default();
    writer.start_file("dossier.json", options).unwrap();
    writer.write_all(GOOD.as_bytes()).unwrap();
    writer.finish().unwrap();
    for (path, words) in [
        (zip, "Unpack it"),
        (dir.path().join("s.gltf"), "Put it into a folder"),
    ] {
        let before = std::fs::read(&path).unwrap();
        let viewer = viewer.path().to_str().unwrap();
        let path_text = path.to_str().unwrap();
        let out = ganosis(&[
            "open",
            path_text,
            "--edit",
            "--no-browser",
            "--viewer",
            viewer,
        ]);
        let err = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(2));
        assert!(
            err.contains("edited") || err.contains("no place for"),
            "{err}"
        );
        assert!(
            err.contains(words) && err.contains("To look at it"),
            "{err}"
        );
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }
}

#[test]
fn when_others_can_reach_it_the_address_carries_a_token_for_writing() {
    let dir = dossier(GOOD);
    let viewer = tempfile::tempdir().unwrap();
    std::fs::write(viewer.path().join("index.html"), "").unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args([
            "open",
            "--edit",
            "--no-browser",
            "--port",
            "0",
            "--listen",
            "0.0.0.0",
        ])
        .args([Path::new("--viewer"), viewer.path(), dir.path()])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let mut out = BufReader::new(child.stdout.as_mut().unwrap());
    out.read_line(&mut line).unwrap();
    let (address, token) = line.trim().split_once("#token=").unwrap();
    let host = address["http://".len()..].split('/').next().unwrap();
    let status = |headers: &str| {
        let mut stream = std::net::TcpStream::connect(host).unwrap();
        let request = format!(
            "PUT /dossier/files/x.csv HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Length: 1\r\n{headers}\r\nx"
        );
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer[9..12].to_owned()
    };
    let (without, with) = (
        status(""),
        status(&format!("Authorization: Bearer {token}\r\n")),
    );
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!((without.as_str(), with.as_str()), ("401", "201"));
}

#[test]
fn annotations_go_out_and_come_in_again() {
    let pinned = GOOD.replace(
        r#""surface": {"file": "s.gltf"}"#,
        r#""surface": {"file": "s.gltf", "sheets": [{"id": "crown", "material": "crown"}]},
        "pins": [{"id": "p", "title": "Bill", "anchor": {"sheet": "crown", "uv": [0.5, 0.5]}}]"#,
    );
    let dir = dossier(&pinned);
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (folder, file) = (path(""), path("notes.jsonld"));
    let text = |out: Output| String::from_utf8(out.stdout).unwrap();
    assert!(
        ganosis(&["annotations", &folder, "-o", &file])
            .status
            .success()
    );
    let printed = text(ganosis(&["annotations", &folder]));
    assert_eq!(printed, std::fs::read_to_string(&file).unwrap());
    let same = text(ganosis(&["annotations", &folder, "--read", &file]));
    assert!(same.contains("new: 0, changed: 0, the same: 1"), "{same}");
    // Nothing to save: the dossier is byte for byte as it was.
    let on_disk = || std::fs::read_to_string(path("dossier.json")).unwrap();
    assert_eq!(on_disk(), pinned);
    std::fs::write(&file, printed.replace("\"Bill\"", "\"Beak\"")).unwrap();
    let tried = text(ganosis(&[
        "annotations",
        &folder,
        "--read",
        &file,
        "--dry-run",
    ]));
    assert!(tried.contains("changed pin: p (title)") && tried.contains("nothing was saved"));
    assert_eq!(on_disk(), pinned);
    assert!(
        ganosis(&["annotations", &folder, "--read", &file])
            .status
            .success()
    );
    assert!(on_disk().contains("\"Beak\"") && on_disk().contains("\"revision\": 2"));
    std::fs::write(&file, "{").unwrap();
    let broken = ganosis(&["annotations", &folder, "--read", &file]);
    let err = String::from_utf8(broken.stderr).unwrap();
    assert!(
        broken.status.code() == Some(2) && err.contains("line 1, column"),
        "{err}"
    );
}

//! Real requests over the loopback, read as bytes: no client tidies them up.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod support;

use std::net::TcpStream;

use ganosis_dossier::store::FolderStore;
use ganosis_server::Site;
use support::{Served, served_site};

fn served() -> Served {
    served_site(|viewer, dossier| {
        std::fs::create_dir_all(dossier.join(".git")).unwrap();
        std::fs::write(dossier.join("../secret"), "secret").unwrap();
        std::fs::write(dossier.join(".git/config"), "secret").unwrap();
        std::fs::write(viewer.join("a.wasm"), vec![0; 4000]).unwrap();
        std::fs::write(dossier.join("dossier.json"), "{}").unwrap();
        std::fs::create_dir_all(dossier.join("tiles/ab")).unwrap();
        for tile in ["abcdef0123456789", "0bcdef0123456789"] {
            std::fs::write(dossier.join(format!("tiles/ab/{tile}.webp")), "x").unwrap();
        }
        std::fs::write(dossier.join("a b.png"), "0123456789").unwrap();
        let store = FolderStore::open(dossier).unwrap();
        Site::new(viewer, Box::new(store)).unwrap()
    })
}

#[test]
fn files_come_with_type_policy_and_tag() {
    let served = served();
    for (path, media_type, body) in [
        ("/", "text/html; charset=utf-8", &b"<p>viewer</p>"[..]),
        ("/dossier/dossier.json", "application/json", b"{}"),
        ("/dossier/a%20b.png", "image/png", b"0123456789"),
    ] {
        let answer = served.get(path, "");
        assert_eq!(
            (answer.status, answer.body.as_slice()),
            (200, body),
            "{path}"
        );
        assert_eq!(answer.header("content-type"), Some(media_type));
        assert!(
            answer
                .header("content-security-policy")
                .unwrap()
                .starts_with("default-src 'none';")
        );
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        let tag = answer.header("etag").unwrap();
        let again = served.get(path, &format!("If-None-Match: \"x\", {tag}\r\n"));
        assert_eq!((again.status, again.body.len()), (304, 0), "{path}");
    }
}

/// RFC 9110 sections 14 and 15.
#[test]
fn parts_of_a_file_are_given() {
    let served = served();
    let path = "/dossier/a%20b.png";
    let part = served.get(path, "Range: bytes=2-4\r\n");
    assert_eq!((part.status, part.body.as_slice()), (206, &b"234"[..]));
    assert_eq!(part.header("content-range"), Some("bytes 2-4/10"));
    let beyond = served.get(path, "Range: bytes=10-\r\n");
    assert_eq!(
        (beyond.status, beyond.header("content-range")),
        (416, Some("bytes */10"))
    );
    let several = served.get(path, "Range: bytes=0-1,3-4\r\n");
    assert_eq!((several.status, several.body.len()), (200, 10));
    let changed = served.get(path, "Range: bytes=2-4\r\nIf-Range: \"other\"\r\n");
    assert_eq!((changed.status, changed.body.len()), (200, 10));
    let tag = part.header("etag").unwrap();
    let same = served.get(path, &format!("Range: bytes=2-4\r\nIf-Range: {tag}\r\n"));
    assert_eq!(same.status, 206);
    let head = served.ask("HEAD", path, "Range: bytes=2-4\r\n");
    assert_eq!(
        (head.status, head.body.len(), head.header("content-length")),
        (200, 0, Some("10"))
    );
}

#[test]
fn code_is_compressed_and_images_are_not() {
    let served = served();
    for coding in ["gzip", "br"] {
        let accept = format!("Accept-Encoding: {coding}\r\n");
        let wasm = served.get("/a.wasm", &accept);
        assert_eq!(wasm.header("content-encoding"), Some(coding));
        assert_eq!(wasm.header("content-type"), Some("application/wasm"));
        assert!(wasm.body.len() < 1000 && wasm.header("etag").unwrap().starts_with("W/"));
        assert_eq!(
            served
                .get("/dossier/a%20b.png", &accept)
                .header("content-encoding"),
            None
        );
        let part = served.get("/a.wasm", &format!("{accept}Range: bytes=0-99\r\n"));
        assert_eq!(
            (
                part.status,
                part.header("content-encoding"),
                part.body.len()
            ),
            (206, None, 100)
        );
    }
}

#[test]
fn nothing_outside_the_two_folders_is_given() {
    let served = served();
    for path in [
        "/../secret",
        "/dossier/../secret",
        "/dossier/../../secret",
        "/dossier/%2e%2e/secret",
        "/dossier/..%2f..%2fsecret",
        "/dossier/..%5c..%5csecret",
        "/dossier/%2fetc/passwd",
        "/dossier/.git/config",
        "/dossier/none.png",
        "/dossier/",
        "/none",
        "/dossier/%00",
    ] {
        let answer = served.get(path, "");
        assert!(
            matches!(answer.status, 400 | 404),
            "{path}: {}",
            answer.status
        );
        let body = String::from_utf8(answer.body).unwrap();
        assert!(
            body.len() > 10 && !body.starts_with("secret"),
            "{path}: {body}"
        );
    }
    assert_eq!(served.ask("POST", "/", "Content-Length: 0\r\n").status, 405);
}

#[test]
fn a_foreign_name_gets_no_answer() {
    let served = served();
    let ask = |host: &str| {
        let request = format!("GET / HTTP/1.1\r\n{host}Connection: close\r\n\r\n");
        served.raw(request.as_bytes()).status
    };
    assert_eq!(ask("Host: rebound.example.org\r\n"), 421);
    assert_eq!(ask("Host: localhost:1\r\n"), 200);
    assert_eq!(ask(""), 400);
}

#[test]
fn the_server_stops_when_told() {
    let mut served = served();
    assert_eq!(served.get("/", "").status, 200);
    served.stop();
    assert!(TcpStream::connect(served.address).is_err());
}

/// RFC 8246: what is named by its content may be kept; everything else is asked for again.
#[test]
fn only_what_is_named_by_its_content_may_be_kept() {
    let served = served();
    for (path, wanted) in [
        (
            "/dossier/tiles/ab/abcdef0123456789.webp",
            "public, max-age=31536000, immutable",
        ),
        ("/dossier/tiles/ab/0bcdef0123456789.webp", "no-cache"),
        ("/dossier/dossier.json", "no-cache"),
    ] {
        let answer = served.get(path, "");
        assert_eq!(answer.header("cache-control"), Some(wanted), "{path}");
    }
}

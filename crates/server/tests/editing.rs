//! Saving through the server: who may, what is refused, and that nothing is
//! lost when several save at once.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod support;

use ganosis_server::{Site, Token};
use serde_json::{Value, json};
use support::{Answer, Served, served_site};

fn document(revision: u64) -> Value {
    json!({"format": "ganosis-dossier/1", "id": "boss", "revision": revision, "title": "Boss",
        "surface": {"file": "boss.glb"}, "pins": [], "later": {"kept": true}})
}

fn served(token: Option<Token>) -> Served {
    served_site(|viewer, dossier| {
        std::fs::write(dossier.join("dossier.json"), document(7).to_string()).unwrap();
        Site::editable(viewer, dossier, token).unwrap()
    })
}

fn json_of(answer: &Answer) -> Value {
    serde_json::from_slice(&answer.body).unwrap()
}

fn on_disk(served: &Served) -> Value {
    serde_json::from_slice(&std::fs::read(served.dossier.join("dossier.json")).unwrap()).unwrap()
}

fn save(served: &Served, revision: u64, document: &Value) -> Answer {
    let headers = format!("If-Match: \"{revision}\"\r\nContent-Type: application/json\r\n");
    served.put(
        "/dossier/dossier.json",
        &headers,
        document.to_string().as_bytes(),
    )
}

#[test]
fn a_save_raises_the_revision_and_keeps_what_it_does_not_know() {
    let served = served(None);
    let about = json_of(&served.get("/dossier/edit", ""));
    assert_eq!(
        (
            &about["editable"],
            &about["revision"],
            &about["token_needed"]
        ),
        (&json!(true), &json!(7), &json!(false))
    );
    let mut changed = document(7);
    changed["title"] = "Changed".into();
    // The server counts, whatever the page writes there.
    changed["revision"] = 99.into();
    let answer = save(&served, 7, &changed);
    assert_eq!(
        (answer.status, json_of(&answer)),
        (200, json!({"revision": 8}))
    );
    let after = on_disk(&served);
    assert_eq!(
        (&after["title"], &after["revision"], &after["later"]["kept"]),
        (&json!("Changed"), &json!(8), &json!(true))
    );
    assert_eq!(json_of(&served.get("/dossier/edit", ""))["revision"], 8);
    // The copy of the document before is there for people, not for readers.
    assert!(served.dossier.join(".dossier.previous.json").exists());
    assert_eq!(
        served.get("/dossier/.dossier.previous.json", "").status,
        404
    );
}

#[test]
fn what_would_lose_or_break_something_is_refused_and_changes_nothing() {
    let served = served(None);
    let before = on_disk(&served);
    let stale = save(&served, 6, &document(6));
    assert_eq!(
        (stale.status, &json_of(&stale)["revision"]),
        (412, &json!(7))
    );
    let path = "/dossier/dossier.json";
    let body = document(7).to_string();
    assert_eq!(served.put(path, "", body.as_bytes()).status, 428);
    for wrong in ["7", "*", "\"\"", "\"x\"", "W/\"7\"", "\"-7\""] {
        let headers = format!("If-Match: {wrong}\r\n");
        assert_eq!(
            served.put(path, &headers, body.as_bytes()).status,
            400,
            "{wrong}"
        );
    }
    for bytes in [
        &b"{"[..],
        b"{}",
        b"\xff",
        &body.as_bytes()[..body.len() / 2],
    ] {
        let answer = served.put(path, "If-Match: \"7\"\r\n", bytes);
        assert_eq!(answer.status, 422);
        assert!(json_of(&answer)["findings"].is_array());
    }
    let mut wrong = document(7);
    wrong["pins"] = json!([{"id": "p", "anchor": {"sheet": "s"}, "evidence": ["none"]},
        {"id": "p", "anchor": {"sheet": "s"}}]);
    wrong["evidence"] =
        json!([{"id": "x", "technique": "xrf", "attachments": [{"file": "evidence/x.csv"}]}]);
    let answer = json_of(&save(&served, 7, &wrong));
    let rules: Vec<&str> = answer["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|finding| finding["rule"].as_str().unwrap())
        .collect();
    for rule in ["duplicate-id", "unknown-id", "missing-file"] {
        assert!(rules.contains(&rule), "{rules:?}");
    }
    wrong["title"] = 5.into();
    assert_eq!(
        json_of(&save(&served, 7, &wrong))["findings"][0]["rule"],
        "wrong-type"
    );
    assert_eq!(on_disk(&served), before);
}

#[test]
fn what_reading_leaves_out_is_not_overwritten() {
    let served = served(None);
    let mut broken = document(7);
    broken["title"] = 5.into();
    std::fs::write(served.dossier.join("dossier.json"), broken.to_string()).unwrap();
    assert_eq!(json_of(&served.get("/dossier/edit", ""))["editable"], false);
    assert_eq!(save(&served, 7, &document(7)).status, 409);
    assert_eq!(on_disk(&served)["title"], 5);
}

#[test]
fn files_come_before_the_document_that_names_them() {
    let served = served(None);
    let put = |path: &str, body: &[u8]| served.put(&format!("/dossier/files/{path}"), "", body);
    let csv = b"keV,counts\n8.05,900\n";
    assert_eq!(put("evidence/x%2031.csv", csv).status, 201);
    assert_eq!(put("evidence/x%2031.csv", csv).status, 200);
    assert_eq!(served.get("/dossier/evidence/x%2031.csv", "").body, csv);
    assert_eq!(put("evidence/x-pose.json", b"{}").status, 201);
    let taken = put("evidence/x%2031.csv", b"other");
    assert_eq!(
        (taken.status, &json_of(&taken)["free"]),
        (409, &json!("evidence/x 31-2.csv"))
    );
    let mut changed = document(7);
    changed["evidence"] =
        json!([{"id": "x", "technique": "xrf", "attachments": [{"file": "evidence/x 31.csv"}]}]);
    assert_eq!(save(&served, 7, &changed).status, 200);
    for (path, body, status) in [
        ("..%2fx.csv", &b"x"[..], 400),
        ("../x.csv", b"x", 400),
        ("%2e%2e/%2e%2e/x.csv", b"x", 400),
        ("%2fetc%2fx.csv", b"x", 400),
        (".git/x.csv", b"x", 400),
        ("dossier.json", b"{}", 400),
        ("x.html", b"<script>", 415),
        ("x.svg", b"<svg/>", 415),
        ("x.json", b"\xff{}", 415),
        ("x.png", b"<script>", 415),
        ("x", b"x", 415),
    ] {
        let answer = put(path, body);
        assert_eq!(answer.status, status, "{path}: {}", answer.head);
        assert!(json_of(&answer)["error"].as_str().unwrap().len() > 20);
    }
    assert_eq!(served.put("/index.html", "", b"x").status, 404);
    let mut names: Vec<_> = std::fs::read_dir(&served.dossier)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [".dossier.previous.json", "dossier.json", "evidence"]
    );
}

#[test]
fn what_is_too_large_is_refused_by_its_header() {
    let served = served(None);
    let request = format!(
        "PUT /dossier/files/x.csv HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Length: 300000000\r\n\r\n",
        served.address
    );
    assert_eq!(served.raw(request.as_bytes()).status, 413);
}

#[test]
fn a_page_of_another_site_writes_nothing() {
    let served = served(None);
    let before = on_disk(&served);
    let own = format!("Origin: http://{}\r\n", served.address);
    let body = document(7).to_string();
    let put = |headers: &str| {
        let headers = format!("If-Match: \"7\"\r\n{headers}");
        served
            .put("/dossier/dossier.json", &headers, body.as_bytes())
            .status
    };
    for foreign in [
        "Origin: http://example.org\r\n",
        "Origin: null\r\n",
        "Origin: http://127.0.0.1:1\r\n",
        "Origin: \r\n",
        "Sec-Fetch-Site: cross-site\r\n",
        "Sec-Fetch-Site: same-site\r\n",
    ] {
        assert_eq!(put(foreign), 403, "{foreign}");
    }
    let rebound = format!(
        "PUT /dossier/dossier.json HTTP/1.1\r\nHost: rebound.example.org\r\nOrigin: http://rebound.example.org\r\n\
         If-Match: \"7\"\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    assert_eq!(served.raw(rebound.as_bytes()).status, 421);
    // The question a browser asks before it lets a foreign page try.
    let asked = served.ask(
        "OPTIONS",
        "/dossier/dossier.json",
        "Origin: http://example.org\r\nAccess-Control-Request-Method: PUT\r\n",
    );
    assert_eq!(
        (asked.status, asked.header("access-control-allow-origin")),
        (405, None)
    );
    assert_eq!(on_disk(&served), before);
    assert_eq!(put(&format!("{own}Sec-Fetch-Site: same-origin\r\n")), 200);
}

#[test]
fn with_a_token_only_those_who_have_it_write() {
    let token = Token::random().unwrap();
    let word = token.word().to_owned();
    let served = served(Some(token));
    let about = json_of(&served.get("/dossier/edit", ""));
    assert_eq!(
        (&about["token_needed"], &about["token_accepted"]),
        (&json!(true), &json!(false))
    );
    let refused = save(&served, 7, &document(7));
    assert_eq!(
        (refused.status, refused.header("www-authenticate")),
        (401, Some("Bearer"))
    );
    assert_eq!(
        served
            .put("/dossier/files/x.csv", "Authorization: Bearer 0\r\n", b"x")
            .status,
        401
    );
    let right = format!("Authorization: Bearer {word}\r\n");
    assert_eq!(
        json_of(&served.get("/dossier/edit", &right))["token_accepted"],
        true
    );
    assert_eq!(served.put("/dossier/files/x.csv", &right, b"x").status, 201);
}

#[test]
fn without_leave_nothing_is_written() {
    let served = served_site(|viewer, dossier| {
        std::fs::write(dossier.join("dossier.json"), document(7).to_string()).unwrap();
        let store = ganosis_dossier::store::FolderStore::open(dossier).unwrap();
        Site::new(viewer, Box::new(store)).unwrap()
    });
    let about = json_of(&served.get("/dossier/edit", ""));
    assert!(about["editable"] == false && about["why"].as_str().unwrap().contains("--edit"));
    assert_eq!(save(&served, 7, &document(7)).status, 403);
    assert_eq!(served.put("/dossier/files/x.csv", "", b"x").status, 403);
}

/// Eight clients add people at the same time, each from what it has read; every
/// one whose save was confirmed is there in the end, and no save went unseen.
#[test]
fn of_several_who_save_at_once_none_loses_anything_unseen() {
    const CLIENTS: u64 = 8;
    const SAVES_EACH: u64 = 5;
    let served = served(None);
    let confirmed: Vec<(u64, String)> = std::thread::scope(|scope| {
        let client = |client: u64| {
            let served = &served;
            move || {
                let mut confirmed = Vec::new();
                for save_number in 0..SAVES_EACH {
                    let id = format!("p-{client}-{save_number}");
                    loop {
                        let mut document = json_of(&served.get("/dossier/dossier.json", ""));
                        let revision = document["revision"].as_u64().unwrap();
                        let people = document["people"].as_array_mut();
                        let new = json!({"id": id, "name": id});
                        match people {
                            Some(people) => people.push(new),
                            None => document["people"] = json!([new]),
                        }
                        let answer = save(served, revision, &document);
                        match answer.status {
                            200 => {
                                let revision = json_of(&answer)["revision"].as_u64().unwrap();
                                confirmed.push((revision, id));
                                break;
                            }
                            412 => {}
                            other => panic!("{other}: {:?}", json_of(&answer)),
                        }
                    }
                }
                confirmed
            }
        };
        let threads: Vec<_> = (0..CLIENTS).map(|n| scope.spawn(client(n))).collect();
        threads
            .into_iter()
            .flat_map(|thread| thread.join().unwrap())
            .collect()
    });
    let mut revisions: Vec<u64> = confirmed.iter().map(|(revision, _)| *revision).collect();
    revisions.sort_unstable();
    // Each revision was given out once.
    assert_eq!(revisions, (8..8 + CLIENTS * SAVES_EACH).collect::<Vec<_>>());
    let after = on_disk(&served);
    let mut people: Vec<&str> = after["people"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["id"].as_str().unwrap())
        .collect();
    let mut wanted: Vec<&str> = confirmed.iter().map(|(_, id)| id.as_str()).collect();
    people.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(people, wanted);
}

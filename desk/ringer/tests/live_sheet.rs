//! The live sheet's door: only this host, only with the key, nothing for foreign pages; edits are made whole, undone, and never lost.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

/// A job with one known size and nothing to compute: the door is what is tried here.
const JOB: &str =
    "format = \"ringer-job 1\"\ntitle = \"Door\" # kept\n\n[[known]]\nname = \"shaft\"\nvalue = \"6 mm\"\n\n[run]\nwanted = 4\n";

struct Open {
    child: Child,
    folder: PathBuf,
    port: u16,
    key: String,
}

impl Open {
    fn job(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("ringer-live-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).expect("a folder");
        std::fs::write(folder.join("job.toml"), JOB).expect("written");
        let (child, port, key) = start(&folder);
        Open { child, folder, port, key }
    }

    /// A folder without a job.
    fn empty(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("ringer-live-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).expect("a folder");
        let (child, port, key) = start(&folder);
        Open { child, folder, port, key }
    }

    fn holds(&self) -> usize {
        std::fs::read_dir(&self.folder).expect("a folder").count()
    }

    /// Kills the server as a crash would, and starts it anew.
    fn restart(&mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("gone");
        (self.child, self.port, self.key) = start(&self.folder);
    }

    /// A server that refuses a request before it has read its body may reset the connection before its answer is read: it is asked again.
    fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> (u16, String) {
        (0..20).find_map(|_| self.ask_once(method, path, headers, body)).expect("an answer in twenty tries")
    }

    fn ask_once(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Option<(u16, String)> {
        let mut all = vec![("Host".to_string(), format!("127.0.0.1:{}", self.port)), ("Content-Type".into(), "application/json".into())];
        for (name, value) in headers {
            all.retain(|(known, _)| known != name);
            all.push((name.to_string(), value.to_string()));
        }
        let head: String = all.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("connected");
        write!(stream, "{method} {path} HTTP/1.1\r\n{head}Connection: close\r\nContent-Length: {}\r\n\r\n{body}", body.len()).ok()?;
        let mut bytes = Vec::new();
        let read = stream.read_to_end(&mut bytes);
        if read.is_err() && bytes.is_empty() {
            return None;
        }
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let status = text.split(' ').nth(1).and_then(|code| code.parse().ok()).expect("a status");
        Some((status, text))
    }

    fn with_key(&self, method: &str, path: &str, body: &Value) -> (u16, Value) {
        let cookie = format!("ringer_{}={}", self.port, self.key);
        let (status, text) = self.ask(method, path, &[("Cookie", &cookie)], &if body.is_null() { String::new() } else { body.to_string() });
        let body = text.split_once("\r\n\r\n").map_or("", |(_, body)| body);
        (status, serde_json::from_str(body).unwrap_or(Value::Null))
    }

    fn document(&self) -> String {
        std::fs::read_to_string(self.folder.join("job.toml")).expect("a document")
    }
}

fn start(folder: &std::path::Path) -> (Child, u16, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringer"))
        .arg("open")
        .arg(folder)
        .stderr(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .expect("starts");
    let told = BufReader::new(child.stderr.take().expect("its words"));
    let address = told.lines().map_while(Result::ok).find(|line| line.contains("http://")).expect("an address");
    let (host, key) = address.trim().trim_start_matches("http://127.0.0.1:").split_once("/?key=").expect("port and key");
    (child, host.parse().expect("a port"), key.to_string())
}

impl Drop for Open {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

#[test]
fn nobody_gets_in_without_the_key_or_from_elsewhere() {
    let open = Open::job("door");
    let key = format!("/?key={}", open.key);
    assert_eq!(open.ask("GET", &key, &[], "").0, 200);
    assert_eq!(open.ask("GET", "/", &[], "").0, 401);
    assert_eq!(open.ask("GET", "/?key=00000000000000000000000000000000", &[], "").0, 401);
    assert_eq!(open.ask("GET", &key, &[("Host", "evil.example")], "").0, 403);
    assert_eq!(open.ask("GET", &key, &[("Host", &format!("evil.example:{}", open.port))], "").0, 403);
    assert_eq!(open.ask("GET", &key, &[("Origin", "http://evil.example")], "").0, 403);
    assert_eq!(open.ask("POST", "/api/undo", &[], "").0, 401);
    let (_, page) = open.ask("GET", &key, &[], "");
    for header in ["content-security-policy: default-src 'none'", "x-content-type-options: nosniff", "httponly; samesite=strict"] {
        assert!(page.to_lowercase().contains(header), "{header} is not in the answer's head");
    }
}

#[test]
fn an_edit_is_made_undone_and_survives_a_kill() {
    let mut open = Open::job("edit");
    let (status, state) = open.with_key("GET", "/api/job", &Value::Null);
    assert_eq!((status, state["document"]["known"][0]["value"].as_str()), (200, Some("6 mm")));
    let edit = |base: &str, path: Value, value: Value| json!({ "base": base, "edits": [{ "path": path, "value": value }] });
    let (status, state) = open.with_key("POST", "/api/edit", &edit(JOB, json!(["known", {"name": "shaft"}, "value"]), json!("1/4 in")));
    assert_eq!(status, 200, "{state}");
    assert_eq!(open.document(), JOB.replace("6 mm", "1/4 in"));
    open.restart();
    assert_eq!(open.document(), JOB.replace("6 mm", "1/4 in"));
    assert_eq!(open.with_key("POST", "/api/undo", &json!({})).0, 200);
    assert_eq!(open.document(), JOB);
    assert_eq!(open.with_key("POST", "/api/redo", &json!({})).0, 200);
    assert_eq!(open.document(), JOB.replace("6 mm", "1/4 in"));
}

#[test]
fn two_windows_merge_and_a_clash_is_shown() {
    let open = Open::job("windows");
    let edit = |path: Value, value: Value| json!({ "base": JOB, "edits": [{ "path": path, "value": value }] });
    assert_eq!(open.with_key("POST", "/api/edit", &edit(json!(["run", "wanted"]), json!(12))).0, 200);
    assert_eq!(open.with_key("POST", "/api/edit", &edit(json!(["title"]), json!("Second window"))).0, 200);
    let document = open.document();
    assert!(document.contains("wanted = 12") && document.contains("Second window") && document.contains("# kept"));
    let (status, clash) = open.with_key("POST", "/api/edit", &edit(json!(["run", "wanted"]), json!(13)));
    assert_eq!(status, 409);
    assert!(clash["conflict"].as_str().is_some_and(|text| text.contains("12") && text.contains("13")));
    assert_eq!(open.document(), document, "a clash wrote something");
}

#[test]
fn what_would_break_the_job_is_refused_with_words() {
    let open = Open::job("refuse");
    let broken = json!({ "base": JOB, "edits": [{ "path": ["run", "wanted"], "value": -3 }] });
    let (status, told) = open.with_key("POST", "/api/edit", &broken);
    assert_eq!(status, 422, "{told}");
    assert!(told["problem"].as_str().is_some_and(|text| text.contains("wanted") || text.contains("job.toml")));
    assert_eq!(open.document(), JOB);
    assert_eq!(open.with_key("POST", "/api/photo?file=a.jpg", &json!("no picture")).0, 422);
    assert!(!open.folder.join("photos").exists());
}

#[test]
fn an_empty_folder_stays_empty_until_a_job_is_started_and_no_job_is_written_over() {
    let open = Open::empty("start");
    assert_eq!(open.ask("GET", &format!("/?key={}", open.key), &[], "").0, 200);
    let (status, state) = open.with_key("GET", "/api/job", &Value::Null);
    assert_eq!((status, &state["empty"], open.holds()), (200, &json!(true), 0));
    assert_eq!(open.with_key("POST", "/api/start", &json!({ "title": "  " })).0, 422);
    assert_eq!(open.with_key("POST", "/api/start", &json!({ "title": "Knob", "rod": "about a thumb" })).0, 422);
    assert_eq!(open.with_key("POST", "/api/photo?file=a.jpg", &json!("no picture")).0, 422);
    assert_eq!(open.ask("POST", "/api/start", &[], "{\"title\": \"Knob\"}").0, 401, "without the key");
    assert_eq!(open.holds(), 0, "a refused start wrote something");
    assert_eq!(open.with_key("POST", "/api/start", &json!({ "title": "Knob", "rod": "1/4 in" })).0, 200);
    let document = open.document();
    assert!(document.contains("title = \"Knob\"") && document.contains("value = \"1/4 in\""), "{document}");
    assert_eq!(open.with_key("POST", "/api/start", &json!({ "demo": true })).0, 422);
    assert_eq!(open.document(), document, "a job was written over");
}

/// Example sizes of the template must not pass for evidence: who gives no rod has none.
#[test]
fn a_job_started_without_a_rod_knows_no_size() {
    let open = Open::empty("rodless");
    let (status, state) = open.with_key("POST", "/api/start", &json!({ "title": "Knob" }));
    assert_eq!(status, 200, "{state}");
    assert!(state["document"]["known"].as_array().is_none_or(Vec::is_empty), "{}", open.document());
}

#[test]
fn the_bench_view_is_off_without_lan() {
    let open = Open::job("bench");
    assert_eq!(open.with_key("GET", "/bench", &Value::Null).0, 404);
    let (_, page) = open.ask("GET", &format!("/?key={}", open.key), &[], "");
    assert!(!page.contains("Code that opens the bench view"));
}

#[test]
fn what_the_page_has_is_not_sent_again() {
    let open = Open::job("stamps");
    // The sheet of this job is made in no time, but not in none.
    let settled = || {
        for _ in 0..50 {
            let (_, state) = open.with_key("GET", "/api/job", &Value::Null);
            if state["working"].is_null() {
                return state;
            }
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        panic!("the sheet was never made");
    };
    let state = settled();
    let pieces = state["pieces"].as_array().expect("pieces");
    // A piece comes whole, or a station's section in its parts.
    let parts = |piece: &Value| piece[3].as_array().cloned().unwrap_or_default();
    let whole = |piece: &Value| piece[2].is_string() || (parts(piece).len() > 1 && parts(piece).iter().all(|part| part[2].is_string()));
    assert!(pieces.len() > 9 && pieces.iter().all(whole), "{} pieces", pieces.len());
    let fields = state["result"].as_array().expect("fields of the result");
    assert!(fields.iter().any(|field| field[0] == "title" && field[2] == "Door"), "{fields:?}");
    let named = |of: &Vec<Value>, before: &str| -> Vec<(String, Value)> {
        of.iter().map(|one| (format!("{before}{}", one[0].as_str().expect("a name")), one[1].clone())).collect()
    };
    let stamps = |piece: &Value| parts(piece).iter().filter_map(|part| part[1].as_str()).collect::<Vec<_>>().join(" ");
    let of_parts = pieces
        .iter()
        .filter(|piece| piece[3].is_array())
        .map(|piece| (format!("parts.{}", piece[0].as_str().expect("a name")), json!(stamps(piece))));
    let plain: serde_json::Map<String, Value> = named(pieces, "").into_iter().chain(named(fields, "result.")).collect();
    let known: serde_json::Map<String, Value> = plain.clone().into_iter().chain(of_parts).collect();
    let (_, again) = open.with_key("POST", "/api/job", &json!({ "known": known }));
    assert!(
        again["pieces"].as_array().expect("pieces").iter().all(|piece| piece[2].is_null() && piece[3].is_null()),
        "a piece that the page has was sent"
    );
    assert!(again["result"].as_array().expect("fields").iter().all(|field| field[2].is_null() && field[3] == true), "a field was sent");
    // A page that came with the sheet in it learns the stamps of the parts, and no more.
    let (_, learnt) = open.with_key("POST", "/api/job", &json!({ "known": plain }));
    let learnt = learnt["pieces"].as_array().expect("pieces");
    assert_eq!(learnt.iter().map(stamps).collect::<Vec<_>>(), pieces.iter().map(stamps).collect::<Vec<_>>());
    assert!(learnt.iter().flat_map(parts).all(|part| part[2].is_null()), "a part that the page has was sent");
    // A change of one section sends those of its parts that changed.
    let maker = json!({ "base": JOB, "edits": [{ "path": ["maker"], "value": "Bench" }], "known": known });
    let (_, made) = open.with_key("POST", "/api/edit", &maker);
    for piece in made["pieces"].as_array().expect("pieces").iter().filter(|piece| piece[3].is_array()) {
        let sent = parts(piece).iter().filter(|part| part[2].is_string()).count();
        assert!(made["working"].is_string() || (sent > 0 && sent < parts(piece).len()), "{sent} parts of {}", piece[0]);
    }
    let (_, undone) = open.with_key("POST", "/api/undo", &json!({ "known": known }));
    assert!(undone["text"] == JOB, "{undone}");
    let edit = json!({ "base": JOB, "edits": [{ "path": ["title"], "value": "Other" }], "known": known });
    let (_, changed) = open.with_key("POST", "/api/edit", &edit);
    let sent: Vec<&str> = changed["pieces"]
        .as_array()
        .expect("pieces")
        .iter()
        .filter(|piece| piece[2].is_string() || piece[3].is_array())
        .filter_map(|piece| piece[0].as_str())
        .collect();
    assert!(changed["working"].is_string() || sent.contains(&"masthead"), "{sent:?}");
    assert!(!sent.contains(&"colour"), "{sent:?}");
}

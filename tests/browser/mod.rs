//! A real browser for tests: Debian's chromium without a window, spoken to in its DevTools protocol.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tungstenite::stream::MaybeTlsStream;
use tungstenite::{Message, WebSocket};

/// What is started: nothing that asks the network, no profile of a person.
const FLAGS: [&str; 9] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    // A free port, told on the standard error output.
    "--remote-debugging-port=0",
];

/// A browser that hangs fails the test instead of hanging it.
const PATIENCE: Duration = Duration::from_secs(120);

/// A browser with one page.
pub struct Browser {
    process: Child,
    socket: WebSocket<MaybeTlsStream<TcpStream>>,
    /// Folder of the profile, new and removed at the end.
    _profile: tempfile::TempDir,
    session: Option<String>,
    calls: u64,
    events: Vec<Value>,
}

impl Browser {
    /// Starts it with an empty page.
    pub fn start() -> Self {
        let profile = tempfile::tempdir().expect("a temporary folder");
        let mut process = Command::new("chromium")
            .args(FLAGS)
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("about:blank")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("chromium is installed: apt-get install chromium");
        let mut lines = BufReader::new(process.stderr.take().expect("a pipe")).lines();
        let address = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| {
                let (_, address) = line.split_once("DevTools listening on ")?;
                Some(address.trim().to_owned())
            })
            .expect("the browser tells where it listens");
        // What it goes on to say must not fill the pipe.
        std::thread::spawn(move || lines.for_each(drop));
        let (socket, _) = tungstenite::connect(address.as_str()).expect("a connection");
        if let MaybeTlsStream::Plain(stream) = socket.get_ref() {
            stream.set_read_timeout(Some(PATIENCE)).expect("a timeout");
        }
        let mut browser = Self {
            process,
            socket,
            _profile: profile,
            session: None,
            calls: 0,
            events: Vec::new(),
        };
        let target = browser.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attached = browser.call(
            "Target.attachToTarget",
            json!({ "targetId": target["targetId"], "flatten": true }),
        );
        browser.session = attached["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log", "Network", "Accessibility"] {
            browser.call(&format!("{domain}.enable"), json!({}));
        }
        browser
    }

    /// Calls a method of the protocol and gives its result; events that come meanwhile are kept.
    pub fn call(&mut self, method: &str, parameters: Value) -> Value {
        self.calls += 1;
        let call = self.calls;
        let mut request = json!({ "id": call, "method": method, "params": parameters });
        if let Some(session) = &self.session {
            request["sessionId"] = json!(session);
        }
        let text = Message::text(request.to_string());
        self.socket.send(text).expect("a request that is sent");
        loop {
            let answer = self.read();
            if answer["id"] == json!(call) {
                assert!(answer["error"].is_null(), "{method}: {}", answer["error"]);
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }

    fn read(&mut self) -> Value {
        loop {
            if let Message::Text(text) = self.socket.read().expect("an answer of the browser") {
                return serde_json::from_str(&text).expect("JSON");
            }
        }
    }

    /// Opens a file from disk and waits until it is laid out, fonts included.
    pub fn open(&mut self, file: &Path) {
        self.events.clear();
        let address = format!("file://{}", file.display());
        let went = self.call("Page.navigate", json!({ "url": address }));
        assert!(went["errorText"].is_null(), "{address}: {went}");
        while self.events("Page.loadEventFired").next().is_none() {
            let event = self.read();
            self.events.push(event);
        }
        self.settle();
    }

    fn settle(&mut self) {
        self.evaluate(
            "document.fonts.ready.then(() => new Promise(done => \
             requestAnimationFrame(() => requestAnimationFrame(() => done(true)))))",
        );
    }

    /// The value of an expression in the page.
    pub fn evaluate(&mut self, expression: &str) -> Value {
        let result = self.call(
            "Runtime.evaluate",
            json!({ "expression": expression, "awaitPromise": true, "returnByValue": true }),
        );
        let fault = &result["exceptionDetails"];
        assert!(fault.is_null(), "{fault}");
        result["result"]["value"].clone()
    }

    /// The parameters of every event of this kind since the page was opened.
    pub fn events<'b>(&'b self, method: &'b str) -> impl Iterator<Item = &'b Value> {
        let events = self.events.iter();
        events
            .filter(move |event| event["method"] == json!(method))
            .map(|event| &event["params"])
    }

    /// Lays the page out for a screen, or for paper when `medium` is `print`.
    pub fn lay_out(&mut self, [width, height]: [u32; 2], medium: &str) {
        self.call(
            "Emulation.setDeviceMetricsOverride",
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600 }),
        );
        self.call("Emulation.setEmulatedMedia", json!({ "media": medium }));
        self.settle();
    }

    /// The whole page as a PNG picture, or a part of it: left, top, width, height in pixels of the page.
    pub fn picture(&mut self, part: Option<[f64; 4]>) -> Vec<u8> {
        let mut request = json!({ "format": "png", "captureBeyondViewport": true });
        if let Some([x, y, width, height]) = part {
            request["clip"] =
                json!({ "x": x, "y": y, "width": width, "height": height, "scale": 1 });
        }
        let picture = self.call("Page.captureScreenshot", request);
        decoded(&picture["data"])
    }

    /// The page printed on A4, with the margins it asks for, as PDF.
    pub fn printed(&mut self) -> Vec<u8> {
        let request = json!({ "preferCSSPageSize": true, "paperWidth": 210.0 / 25.4, "paperHeight": 297.0 / 25.4 });
        let printed = self.call("Page.printToPDF", request);
        decoded(&printed["data"])
    }
}

fn decoded(data: &Value) -> Vec<u8> {
    use base64::prelude::{BASE64_STANDARD, Engine};
    let text = data.as_str().expect("text");
    BASE64_STANDARD.decode(text).expect("base 64")
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Both may fail when it has gone by itself.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

//! A headless browser that opens a page as a reader would.

#![allow(dead_code, clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Sections that a heading of the page or of the paper has to name are found without regard to line breaks.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Runs the browser on a page with one more argument, in a profile of its own.
pub fn browse(page: &Path, argument: &str) -> Output {
    browse_with(page, &[argument.to_owned()])
}

fn browse_with(page: &Path, arguments: &[String]) -> Output {
    let profile = tempfile::tempdir().unwrap();
    let out = Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-pdf-header-footer"])
        .args(["--enable-logging=stderr", "--host-resolver-rules=MAP * ~NOTFOUND", "--virtual-time-budget=5000"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(arguments)
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("chromium is there: .ci/run installs it");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    out
}

/// What the console of the page says: scripts, policies and missing files complain there.
pub fn complaints(page: &Path) -> Vec<String> {
    let out = browse(page, "--dump-dom");
    let said = String::from_utf8_lossy(&out.stderr);
    said.lines().filter(|line| line.contains("CONSOLE")).map(str::to_owned).collect()
}

/// The page in a frame, and what a script outside of it finds there: the page itself lets no script in.
fn in_frame(page: &Path, style: &str, finds: &str, argument: &str) -> String {
    let text = fs::read_to_string(page).unwrap().replace('&', "&amp;").replace('"', "&quot;");
    let frame = format!(
        "<!DOCTYPE html><p id=found></p><iframe style='{style}' srcdoc=\"{text}\" \
         onload=\"document.getElementById('found').textContent='found '+{finds}\"></iframe>"
    );
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("frame.html");
    fs::write(&path, frame).unwrap();
    let arguments = ["--dump-dom", argument].map(str::to_owned);
    let dom = String::from_utf8(browse_with(&path, &arguments).stdout).unwrap();
    let after = dom.split("found ").nth(1).expect("the frame has loaded");
    after.split('<').next().unwrap().to_owned()
}

/// Width that the page needs when its window is `width_px` wide, px. More than the window means that it scrolls sideways.
pub fn width_needed_px(page: &Path, width_px: u32) -> u32 {
    // The page goes into a frame, because a headless window is never this narrow.
    let style = format!("width:{width_px}px;height:800px;border:0");
    let width = in_frame(page, &style, "this.contentDocument.documentElement.scrollWidth", "--mute-audio");
    width.parse().unwrap()
}

/// Colours of paper and ink for a reader whose system is set to dark (0) or light (1).
pub fn paper_and_ink(page: &Path, scheme: u8) -> String {
    let body = "this.contentWindow.getComputedStyle(this.contentDocument.body)";
    let finds = format!("{body}.backgroundColor+' '+{body}.color");
    in_frame(page, "width:800px", &finds, &format!("--blink-settings=preferredColorScheme={scheme}"))
}

/// The page on paper: page size as the system names it, and all words.
pub fn on_paper(page: &Path) -> (String, String) {
    let dir = tempfile::tempdir().unwrap();
    let pdf = dir.path().join("page.pdf");
    browse(page, &format!("--print-to-pdf={}", pdf.display()));
    let said = |command: &str, arguments: &[&str]| {
        let out = Command::new(command).arg(&pdf).args(arguments).output().expect("poppler-utils: .ci/run installs it");
        String::from_utf8(out.stdout).unwrap()
    };
    let size = said("pdfinfo", &[]).lines().find(|line| line.starts_with("Page size")).unwrap().to_owned();
    (size, flat(&said("pdftotext", &["-"])))
}

/// Sheets of paper that the page takes.
pub fn sheets(page: &Path) -> u32 {
    let dir = tempfile::tempdir().unwrap();
    let pdf = dir.path().join("page.pdf");
    browse(page, &format!("--print-to-pdf={}", pdf.display()));
    let out = Command::new("pdfinfo").arg(&pdf).output().expect("poppler-utils: .ci/run installs it");
    let told = String::from_utf8(out.stdout).unwrap();
    let pages = told.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap();
    pages.trim().parse().unwrap()
}

/// What in the page would make a browser fetch something.
pub fn fetches(page: &str) -> Vec<&'static str> {
    let marks = ["src=", "href=", "url(", "@import", "<script", "<link", "<img", "<object", "<embed"];
    marks.into_iter().filter(|mark| page.contains(mark)).collect()
}

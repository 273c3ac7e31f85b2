//! Plan files that are wrong are refused with line and key, what was found and what was expected.

#![allow(clippy::unwrap_used)]

use std::fs;

use firstheat::plan::text::parse_plan;

#[test]
fn each_malformed_plan_is_refused_in_words_that_help() {
    let mut paths: Vec<_> = fs::read_dir("tests/malformed/plan").unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let refusals = paths.iter().map(|path| {
        let name = path.file_name().unwrap().to_string_lossy();
        let refusal = parse_plan(&fs::read_to_string(path).unwrap()).expect_err(&name);
        format!("{name}: {refusal}")
    });
    insta::assert_snapshot!(refusals.collect::<Vec<_>>().join("\n"));
}

#[test]
fn a_plan_cut_short_anywhere_never_panics_and_never_passes_as_the_whole() {
    let text = fs::read_to_string("tests/malformed/plan/negative-pulse.toml").unwrap().replace("-30.0", "30.0");
    let whole = parse_plan(&text).unwrap();
    for end in (0..text.len() - 2).filter(|end| text.is_char_boundary(*end)) {
        assert_ne!(parse_plan(&text[..end]).ok().as_ref(), Some(&whole), "cut at byte {end}");
    }
}

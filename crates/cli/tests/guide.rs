//! The guide to a first plan holds true.

const GUIDE: &str = include_str!("../../../docs/guides/first-plan.md");

/// The pieces of the tract file that the guide shows, one after the other.
fn tract_file() -> String {
    let after_fence = GUIDE.split("```toml\n").skip(1);
    after_fence.filter_map(|piece| piece.split("```").next()).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_tract_file_of_the_guide_has_no_fault() {
    let text = tract_file();
    assert!(text.contains("[[firebreaks]]"));
    let (_, faults) = exchange::tract_file::parse(&text, "tract.toml");
    assert!(faults.is_empty(), "{faults:?}");
}

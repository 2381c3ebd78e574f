//! Every reader of a table: what it takes, and its message for what it does not.

use super::*;
use crate::job::place::{LevelWord, PlaceListWord};

/// A table in feet; its first key stands in line 1.
fn table(text: &str) -> Table {
    let mut table = Table::parse("job.toml", text).unwrap();
    table.set_units(LengthUnit::Foot);
    table
}

/// Reads the key `a` and gives what was found wrong with it.
fn refused<T: std::fmt::Debug>(
    text: &str,
    read: impl FnOnce(&mut Table, &mut Vec<Diagnostic>) -> Option<T>,
) -> String {
    let mut diags = Vec::new();
    let value = read(&mut table(text), &mut diags);
    assert!(value.is_none(), "{text}: {value:?}");
    assert_eq!(diags.len(), 1, "{text}: {diags:?}");
    diags[0].to_string()
}

#[test]
fn numbers_are_whole_or_not_and_finite() {
    let mut diags = Vec::new();
    let mut t = table("a = 3\nb = 1_000.5\nc = 0x10\nd = -2e3\n");
    let mut number = |key| t.number(key, &mut diags).unwrap();
    assert_eq!(number("a"), (3.0, At::cell("job.toml", 1, "a", "3")));
    assert_eq!(
        number("b"),
        (1000.5, At::cell("job.toml", 2, "b", "1_000.5"))
    );
    assert_eq!((number("c").0, number("d").0), (16.0, -2000.0));
    assert_eq!(t.number("a", &mut diags), None);
    assert_eq!(diags, []);

    let number = |text| refused(text, |t, diags| t.number("a", diags));
    assert_eq!(
        number("a = \"1.5\"\n"),
        "error: job.toml line 1, \"a\": \"1.5\": `a` must be a number, not text\n  \
         help: leave the quotes out: a = 1.5"
    );
    assert_eq!(
        number("\na = nan\n"),
        "error: job.toml line 2, \"a\": \"nan\": `a` must be a finite number\n  \
         help: write for example a = 1.5"
    );
    for text in [
        "a = inf",
        "a = -inf",
        "a = +nan",
        "a = 1e400",
        "a = 1e300",
        "a = true",
        "a = [1]",
    ] {
        assert!(number(text).contains("line 1, \"a\""), "{text}");
    }
}

#[test]
fn lengths_become_metres() {
    let mut diags = Vec::new();
    let mut t = table("a = 10\n[b]\nc = -0.5\n");
    assert_eq!(t.length_m("a", &mut diags).unwrap().0, 3.048);
    let mut inner = t.table("b", &mut diags).unwrap();
    assert_eq!(inner.units(), LengthUnit::Foot);
    let at = At::cell("job.toml", 3, "b.c", "-0.5");
    assert_eq!(inner.length_m("c", &mut diags), Some((-0.1524, at)));
    assert_eq!(
        refused("a = 1e300\n", |t, diags| t.length_m("a", diags)),
        "error: job.toml line 1, \"a\": \"1e300\": `a` is too large to be meant\n  \
         help: lengths in this job are in ft"
    );
    // 4e8 m are 1.3123e9 ft.
    assert!(table("a = 1.3e9\n").length_m("a", &mut diags).is_some());
    assert!(refused("a = -1.4e9\n", |t, diags| t.length_m("a", diags)).contains("too large"));
    assert_eq!(diags, []);
}

#[test]
fn text_flags_and_words() {
    let mut diags = Vec::new();
    let mut t = table("a = 'x'\nb = true\nc = \"two\"\n");
    assert_eq!(t.text("a", &mut diags).unwrap().0, "x");
    assert!(t.flag("b", &mut diags).unwrap().0);
    assert_eq!(t.choice("c", &["one", "two"], &mut diags).unwrap().0, 1);
    assert_eq!(diags, []);
    assert_eq!(
        refused("a = 2024-05-01\n", |t, diags| t.text("a", diags)),
        "error: job.toml line 1, \"a\": \"2024-05-01\": `a` must be text in quotes, not a date\n  \
         help: write for example a = \"...\""
    );
    assert_eq!(
        refused("a = \"true\"\n", |t, diags| t.flag("a", diags)),
        "error: job.toml line 1, \"a\": \"true\": `a` must be true or false, not text\n  \
         help: write a = true or a = false, without quotes"
    );
    assert_eq!(
        refused("a = \"mitred\"\n", |t, diags| t.choice(
            "a",
            &["mitre", "round"],
            diags
        )),
        "error: job.toml line 1, \"a\": \"mitred\": `a` does not know this word\n  \
         help: perhaps \"mitre\" is meant; one of \"mitre\", \"round\" is taken"
    );
    assert_eq!(
        refused("a = 3\n", |t, diags| t.choice(
            "a",
            &["mitre", "round"],
            diags
        )),
        "error: job.toml line 1, \"a\": \"3\": `a` must be a word in quotes, not a number\n  \
         help: write one of \"mitre\", \"round\""
    );
}

#[test]
fn places_keep_every_digit() {
    let place = |text: &str, units| {
        let mut t = table(text);
        t.set_units(units);
        let mut diags = Vec::new();
        let place = t.place("a", &mut diags);
        assert_eq!(diags, []);
        place.unwrap().0
    };
    assert_eq!(
        place("a = 31\n", LengthUnit::Foot),
        Place::Shot("31".to_string())
    );
    assert_eq!(
        place("a = \" TP-1\"\n", LengthUnit::Foot),
        Place::Shot("TP-1".to_string())
    );
    // 15.3 ft = 4.66344 m and 0.001 ft = 0.0003048 m, exactly.
    assert_eq!(
        place("a = [15.3, 0.001]", LengthUnit::Foot),
        Place::Coordinates(4_663_440_000, 304_800)
    );
    // An `f64` of this size has steps of almost a nanometre: only the text keeps the last digit.
    assert_eq!(
        place("a = [4_600_000.123456789, -7]", LengthUnit::Metre),
        Place::Coordinates(4_600_000_123_456_789, -7_000_000_000)
    );

    let place = |text| refused(text, |t, diags| t.place("a", diags));
    let help =
        "name one shot, as \"31\" or \"code:tree\", or give east and north in ft, as [12.0, 40.5]";
    assert_eq!(
        place("a = 31.5\n"),
        format!(
            "error: job.toml line 1, \"a\": \"31.5\": `a` takes a place, not a number\n  \
             help: put the name of a shot in quotes, as \"31.5\"; {help}"
        )
    );
    assert_eq!(
        place("a = [1.0,\n  2.0,\n 3.0]\n"),
        format!(
            "error: job.toml line 1, \"a\": \"[1.0, 2.0, 3.0]\": a place of `a` has two \
             coordinates, not 3\n  help: {help}"
        )
    );
    assert_eq!(
        place("a = [1.0,\n  \"x\"]\n"),
        format!(
            "error: job.toml line 2, \"a\": \"x\": a coordinate of `a` is not a number of ft \
             that can be meant\n  help: {help}"
        )
    );
    for (text, words) in [
        ("a = \" \"", "names no shot"),
        ("a = \"shots:1-3\"", "not a list"),
        ("a = [1e300, 0]", "can be meant"),
        ("a = [0, nan]", "can be meant"),
        ("a = true", "must be a place, not true or false"),
    ] {
        assert!(place(text).contains(words), "{text}");
    }
}

#[test]
fn lists_of_places() {
    let mut diags = Vec::new();
    let mut t = table("a = \"code:fence\"\nb = [1, \"2\", [1, 2]]\nc = [\"shots:1-2\", [3, 4]]\n");
    assert_eq!(
        t.places("a", &mut diags),
        Some(PlaceList {
            word: PlaceListWord::Code("fence".to_string()),
            at: At::cell("job.toml", 1, "a", "code:fence"),
        })
    );
    let shot = |name: &str| Place::Shot(name.to_string());
    assert_eq!(
        t.places("b", &mut diags).unwrap().word,
        PlaceListWord::Places(vec![
            shot("1"),
            shot("2"),
            Place::Coordinates(304_800_000, 609_600_000)
        ])
    );
    let (lists, _) = t.place_lists("c", &mut diags).unwrap();
    assert_eq!(lists[0].word, PlaceListWord::Shots(vec!["1-2".to_string()]));
    assert_eq!(
        lists[1].word,
        PlaceListWord::Places(vec![shot("3"), shot("4")])
    );
    assert_eq!(diags, []);

    let help = "write \"code:fence\", \"shots:31-38,40\", or places one by one, \
                as [\"31\", [12.0, 40.5]]";
    assert_eq!(
        refused("a = \"31-38\"\n", |t, diags| t.places("a", diags)),
        format!(
            "error: job.toml line 1, \"a\": \"31-38\": this does not say which places are meant\n  \
             help: {help}"
        )
    );
    assert_eq!(
        refused("a = []\n", |t, diags| t.places("a", diags)),
        format!("error: job.toml line 1, \"a\": \"[]\": `a` holds no place\n  help: {help}")
    );
    assert_eq!(
        refused("a = \"code:house\"\n", |t, diags| t.place_lists("a", diags)),
        "error: job.toml line 1, \"a\": \"code:house\": `a` must be a list of lines or areas, not text\n  \
         help: write for example a = [\"code:top\", \"shots:31-38\"]"
    );
    // Every bad item of a list is told, not only the first.
    assert!(table("a = [1.5, 2.5]\n").places("a", &mut diags).is_none());
    assert_eq!(diags.len(), 2);
}

#[test]
fn levels_say_how_they_are_meant() {
    let mut diags = Vec::new();
    let mut t = table("a = \"level:94.80\"\nb = [\"depth:3\",\n [\"level:2\", \"level:1\"]]\n");
    assert_eq!(
        t.level("a", &mut diags),
        Some(LevelSpec {
            word: LevelWord::Level(94.80 * 0.3048),
            at: At::cell("job.toml", 1, "a", "level:94.80"),
        })
    );
    let (levels, _) = t.levels("b", &mut diags).unwrap();
    assert_eq!(levels.iter().map(Vec::len).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(levels[1][1].word, LevelWord::Level(0.3048));
    assert_eq!(levels[1][1].at, At::cell("job.toml", 3, "b", "level:1"));
    assert_eq!(diags, []);

    let bare = "say how it is meant, in ft: \"level:94.8\", \"below-benchmark:94.8\", \
                \"depth:94.8\" (below the ground) or \"height:94.8\" (above the ground)";
    assert_eq!(
        refused("a = 94.8\n", |t, diags| t.level("a", diags)),
        format!(
            "error: job.toml line 1, \"a\": \"94.8\": `a` does not say how the level is meant\n  \
             help: {bare}"
        )
    );
    assert_eq!(
        refused("a = [\"depth:1\", \"dept:3\"]\n", |t, diags| t
            .levels("a", diags)),
        format!(
            "error: job.toml line 1, \"a\": \"dept:3\": a level is not given by the word `dept`\n  \
             help: {}",
            bare.replace("94.8", "3.0")
        )
    );
    for (text, words) in [
        ("a = []", "empty list"),
        ("a = \"level:3\"", "must be a list of levels, not text"),
        (
            "a = [[\"level:1\"]]",
            "two levels make a drop in `a`, and 1 stand",
        ),
        (
            "a = [[\"level:1\", [\"level:2\"]]]",
            "must be a level, not a list",
        ),
        ("a = [inf]", "must be a level, not a number"),
    ] {
        let answer = refused(text, |t, diags| t.levels("a", diags));
        assert!(answer.contains(words), "{text}: {answer}");
    }
}

#[test]
fn what_nobody_asked_for_is_refused_at_its_own_line() {
    let mut diags = Vec::new();
    let mut root = table(
        "[[feature]]\nname = \"Pond\"\nflor = \"depth:3\"\ncolour = 3\n\
         layers = [\n { thick = 1 },\n { thik = 2 },\n]\n",
    );
    let mut feature = root.tables("feature", &mut diags).remove(0);
    root.finish(&mut diags);
    assert_eq!(feature.at(), At::cell("job.toml", 1, "feature", "Pond"));
    feature.text("name", &mut diags);
    feature.level("floor", &mut diags);
    for mut layer in feature.tables("layers", &mut diags) {
        layer.length_m("thick", &mut diags);
        layer.finish(&mut diags);
    }
    assert_eq!(
        feature.missing("floor", "\"depth:3.0\"").to_string(),
        "error: job.toml line 1: feature \"Pond\" needs `floor`\n  \
         help: write for example floor = \"depth:3.0\""
    );
    assert_eq!(
        feature.missing("floor", "floor = 1").help,
        "write for example floor = 1"
    );
    feature.finish(&mut diags);
    let shown: Vec<_> = diags.iter().map(Diagnostic::to_string).collect();
    assert_eq!(
        shown,
        [
            "error: job.toml line 7, \"feature.layers.thik\": \"2\": layers 2 of feature \"Pond\" has no \
         key `thik`\n  help: perhaps `thick` is meant",
            "error: job.toml line 3, \"feature.flor\": \"depth:3\": feature \"Pond\" has no key `flor`\n  \
         help: perhaps `floor` is meant",
            "error: job.toml line 4, \"feature.colour\": \"3\": feature \"Pond\" has no key `colour`\n  \
         help: it takes `name`, `floor`, `layers`",
        ]
    );
}

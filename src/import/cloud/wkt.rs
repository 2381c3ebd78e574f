//! Units of a coordinate system in well-known text.
//!
//! Takes WKT 1 or WKT 2, gives the unit of plan and of heights apart. Knows no projection.
//!
//! # Source
//!
//! Open Geospatial Consortium, OGC 01-009 (2001), chapter 7 (WKT 1), and OGC 18-010r11 (2023),
//! Well-known text representation of coordinate reference systems (WKT 2)

use super::crs::{Said, by_code, length_unit};

/// Deepest nesting that is followed; real texts have about six levels.
const DEEPEST: usize = 64;

/// A keyword and what stands in its brackets.
#[derive(Debug, Default)]
struct Node {
    keyword: String,
    values: Vec<Value>,
}

#[derive(Debug)]
enum Value {
    /// A quoted text, a number or a bare word.
    Text(String),
    Node(Node),
}

impl Node {
    fn nodes(&self) -> impl Iterator<Item = &Node> {
        self.values.iter().filter_map(|v| match v {
            Value::Node(node) => Some(node),
            Value::Text(_) => None,
        })
    }

    fn text(&self, place: usize) -> Option<&str> {
        match self.values.get(place)? {
            Value::Text(text) => Some(text),
            Value::Node(_) => None,
        }
    }
}

/// What a text says of plan and heights.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct WktUnits {
    pub(super) plan: Option<Said>,
    pub(super) height: Option<Said>,
}

/// Reads the units; `None` if the text is none of this language.
pub(super) fn units(text: &str) -> Option<WktUnits> {
    let mut units = WktUnits::default();
    for node in parse(text)? {
        visit(&node, &mut units);
    }
    Some(units)
}

fn visit(node: &Node, units: &mut WktUnits) {
    match &*node.keyword {
        "COMPD_CS" | "COMPOUNDCRS" | "BOUNDCRS" | "SOURCECRS" | "COORDINATEMETADATA" => {
            for inner in node.nodes() {
                visit(inner, units);
            }
        }
        "PROJCS" | "PROJCRS" | "PROJECTEDCRS" | "DERIVEDPROJCRS" | "LOCAL_CS" | "ENGCRS"
        | "ENGINEERINGCRS" => {
            units.plan = units.plan.take().or_else(|| unit_of(node, "plan", 0));
            if axes(node) == 3 {
                units.height = units.height.take().or_else(|| unit_of(node, "height", 2));
            }
        }
        "VERT_CS" | "VERTCS" | "VERTCRS" | "VERTICALCRS" => {
            units.height = units.height.take().or_else(|| unit_of(node, "height", 0));
        }
        "GEOGCS" | "GEOGCRS" | "GEOGRAPHICCRS" | "GEODCRS" | "GEODETICCRS" => {
            units.plan = units.plan.take().or(Some(Said::Degrees));
        }
        "GEOCCS" => units.plan = units.plan.take().or(Some(Said::EarthCentred)),
        _ => {}
    }
}

/// Number of axes of a system.
fn axes(node: &Node) -> usize {
    node.nodes().filter(|n| n.keyword == "AXIS").count()
}

/// The unit of an axis, or of all; by the code of the system where no unit is written.
fn unit_of(node: &Node, kind: &str, axis: usize) -> Option<Said> {
    let unit_in = |node: &Node| {
        let unit = node
            .nodes()
            .find(|n| n.keyword == "LENGTHUNIT" || n.keyword == "UNIT")?;
        let name = unit.text(0).unwrap_or_default();
        let factor: Option<f64> = unit.text(1).and_then(|f| f.trim().parse().ok());
        Some(match factor.and_then(length_unit) {
            Some(unit) => Said::Unit(unit),
            None => Said::Other(format!("\"{name}\"")),
        })
    };
    let on_axis = |node: &Node| {
        let axis = node.nodes().filter(|n| n.keyword == "AXIS").nth(axis)?;
        unit_in(axis)
    };
    let by_name = |node: &Node| {
        let mut ids = node
            .nodes()
            .filter(|n| n.keyword == "AUTHORITY" || n.keyword == "ID");
        let id = ids.find(|id| id.text(0).is_some_and(|t| t.eq_ignore_ascii_case("EPSG")))?;
        by_code(kind, id.text(1)?.trim().parse().ok()?)
    };
    on_axis(node)
        .or_else(|| unit_in(node))
        .or_else(|| by_name(node))
}

/// The text as a tree; texts after one another are several roots.
fn parse(text: &str) -> Option<Vec<Node>> {
    let mut open = vec![Node::default()];
    let mut rest = text.trim_matches(|c: char| c == '\0' || c.is_whitespace());
    while let Some(first) = rest.chars().next() {
        let root = open.last_mut()?;
        match first {
            '"' => {
                let (quoted, after) = quoted(&rest[1..])?;
                root.values.push(Value::Text(quoted));
                rest = after;
            }
            ']' | ')' => {
                let done = open.pop()?;
                open.last_mut()?.values.push(Value::Node(done));
                rest = &rest[1..];
            }
            ',' => rest = &rest[1..],
            c if c.is_whitespace() => rest = &rest[c.len_utf8()..],
            _ => {
                let end = rest
                    .find(['[', '(', ']', ')', ',', '"'])
                    .unwrap_or(rest.len());
                let word = rest[..end].trim();
                if word.is_empty() || open.len() > DEEPEST {
                    return None;
                }
                rest = &rest[end..];
                if let Some(inside) = rest.strip_prefix(['[', '(']) {
                    open.push(Node {
                        keyword: word.to_ascii_uppercase(),
                        values: Vec::new(),
                    });
                    rest = inside;
                } else {
                    let word = word.to_owned();
                    open.last_mut()?.values.push(Value::Text(word));
                }
            }
        }
    }
    let root = open.pop().filter(|_| open.is_empty())?;
    let roots = root.values.into_iter();
    let nodes: Option<Vec<Node>> = roots
        .map(|value| match value {
            Value::Node(node) => Some(node),
            Value::Text(_) => None,
        })
        .collect();
    nodes.filter(|nodes| !nodes.is_empty())
}

/// A quoted text behind its first mark, and what follows; a doubled mark stands for itself.
fn quoted(text: &str) -> Option<(String, &str)> {
    let mut quoted = String::new();
    let mut rest = text;
    loop {
        let end = rest.find('"')?;
        quoted.push_str(&rest[..end]);
        rest = &rest[end + 1..];
        match rest.strip_prefix('"') {
            Some(after) => {
                quoted.push('"');
                rest = after;
            }
            None => return Some((quoted, rest)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::LengthUnit::{Foot, Metre, UsSurveyFoot};

    fn read(text: &str) -> (Option<Said>, Option<Said>) {
        let units = units(text).unwrap();
        (units.plan, units.height)
    }

    /// Texts of both languages as written by general-purpose libraries, shortened where nothing
    /// of a unit stands.
    #[test]
    fn units_of_plan_and_heights_are_told_apart() {
        let base = "GEOGCS[\"NAD83\",DATUM[\"d\",SPHEROID[\"s\",6378137,298.2]],\
                    UNIT[\"degree\",0.0174532925199433]]";
        let wkt1 = format!(
            "COMPD_CS[\"a + b\",PROJCS[\"a (ft)\",{base},PROJECTION[\"x\"],\
             PARAMETER[\"false_easting\",1312335.958],UNIT[\"foot\",0.3048]],\
             VERT_CS[\"b\",VERT_DATUM[\"v\",2005],UNIT[\"US survey foot\",0.304800609601219]]]\0\0"
        );
        let feet = (Some(Said::Unit(Foot)), Some(Said::Unit(UsSurveyFoot)));
        assert_eq!(read(&wkt1), feet);
        let wkt2 = "COMPOUNDCRS[\"c\",PROJCRS[\"p\",BASEGEOGCRS[\"g\",DATUM[\"d\",ELLIPSOID[\"e\",1,2,\
            LENGTHUNIT[\"metre\",1]]]],CONVERSION[\"k\",PARAMETER[\"False easting\",5,LENGTHUNIT[\"metre\",1]]],\
            CS[Cartesian,2],AXIS[\"(E)\",east,ORDER[1],LENGTHUNIT[\"US survey foot\",0.304800609601219]],\
            AXIS[\"(N)\",north,ORDER[2],LENGTHUNIT[\"US survey foot\",0.304800609601219]]],\
            VERTCRS[\"v\",VDATUM[\"d\"],CS[vertical,1],AXIS[\"up (H)\",up],LENGTHUNIT[\"metre\",1]]]";
        let mixed = (Some(Said::Unit(UsSurveyFoot)), Some(Said::Unit(Metre)));
        assert_eq!(read(wkt2), mixed);
        let beside = format!(
            "PROJCS(\"p\", {base}, UNIT(\"Foot_US\", 0.30480060960121924)), VERTCS(\"v\", UNIT(\"Meter\", 1.0))"
        );
        assert_eq!(read(&beside), mixed);
        let solid = "PROJCRS[\"3D\",CS[Cartesian,3],AXIS[\"e\",east],AXIS[\"n\",north],\
            AXIS[\"h\",up,LENGTHUNIT[\"foot\",0.3048]],LENGTHUNIT[\"metre\",1]]";
        let up = (Some(Said::Unit(Metre)), Some(Said::Unit(Foot)));
        assert_eq!(read(solid), up);
        assert_eq!(read(base), (Some(Said::Degrees), None));
        let coded = "PROJCS[\"no unit\",AUTHORITY[\"EPSG\",\"2992\"]]";
        assert_eq!(read(coded), (Some(Said::Unit(Foot)), None));
        let chain = "PROJCS[\"old\",UNIT[\"Clarke's \"\"link\"\"\",0.201166195164]]";
        let other = Said::Other("\"Clarke's \"link\"\"".to_owned());
        assert_eq!(read(chain), (Some(other), None));
    }

    #[test]
    fn what_is_no_such_text_has_no_units() {
        let deep = "A[".repeat(100_000);
        for text in [
            "", "metre", "\0\0", "PROJCS[", "PROJCS]", "[", "\"", "A[\"", &deep,
        ] {
            assert_eq!(units(text), None, "{:.20}", text);
        }
        assert_eq!(units("A[1,B]"), Some(WktUnits::default()));
    }
}

//! The built program, run as a user would.
#![allow(dead_code, missing_docs, unreachable_pub, clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

pub fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

/// Runs the program in a folder.
pub fn cutbank(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cutbank"))
        .args(arguments)
        .current_dir(dir)
        .output()
        .unwrap()
}

pub fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

pub fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

pub fn json(output: &Output) -> Value {
    assert_eq!(output.status.code(), Some(0), "{}", err(output));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// An answer for machines without the times its stages took, which no two runs share.
pub fn untimed(output: &Output) -> Value {
    let mut value: Value = serde_json::from_slice(&output.stdout).unwrap();
    let stages = value.as_object_mut().unwrap().remove("stages_s");
    let seconds = stages.as_ref().and_then(Value::as_object).unwrap();
    assert!(seconds.values().all(|s| s.as_f64().unwrap() >= 0.0));
    value
}

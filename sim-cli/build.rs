//! Lists the lessons and their answers for the program to carry.

use std::fmt::Write;
use std::path::Path;
use std::{env, fs};

fn main() {
    let root = env::var("CARGO_MANIFEST_DIR").expect("cargo sets it");
    let folder = Path::new(&root).join("../notebooks-md");
    println!("cargo:rerun-if-changed={}", folder.display());
    println!("cargo:rerun-if-changed={}", folder.join("answers").display());
    let names = fs::read_dir(&folder).expect("the lessons' folder").flatten();
    let mut names: Vec<String> =
        names.filter_map(|entry| entry.file_name().into_string().ok()).collect();
    names.retain(|name| name.starts_with(|c: char| c.is_ascii_digit()) && name.ends_with(".md"));
    names.sort();
    let mut list = String::from("[\n");
    for name in names {
        let (page, answers) = (folder.join(&name), folder.join("answers").join(&name));
        let _ = writeln!(
            list,
            "    ({:?}, include_str!({page:?}), include_str!({answers:?})),",
            name.trim_end_matches(".md")
        );
    }
    list.push(']');
    let out = env::var("OUT_DIR").expect("cargo sets it");
    fs::write(Path::new(&out).join("lessons.rs"), list).expect("written");
}

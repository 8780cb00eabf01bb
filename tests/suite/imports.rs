//! Which module imports which, read from the sources of a member.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Modules by their path from the root (`["rig", "keys"]`; empty for the root itself).
pub type ModulePath = Vec<String>;

/// One file: what it names of other modules.
#[derive(Default)]
struct Source {
    /// Paths it names, as written.
    named: Vec<Vec<String>>,
    /// Names it makes public that live elsewhere.
    gives_on: BTreeMap<String, Vec<String>>,
    /// Names it has brought into scope.
    in_scope: BTreeMap<String, Vec<String>>,
    /// Whether a path only gives on what lies below the file.
    given: BTreeSet<Vec<String>>,
}

/// The modules of a member.
pub struct Member {
    sources: BTreeMap<ModulePath, Source>,
}

impl Member {
    /// Reads every module below a folder, whose root is `lib.rs`.
    pub fn read(folder: &Path) -> Member {
        let mut sources = BTreeMap::new();
        read_folder(folder, &mut Vec::new(), &mut sources);
        Member { sources }
    }

    /// Every module's name, as `rig::keys`, but for the root.
    pub fn modules(&self) -> Vec<String> {
        self.sources.keys().filter(|path| !path.is_empty()).map(|path| path.join("::")).collect()
    }

    /// Each module with the modules it imports. A module that only gives on names of its own
    /// children does not import them.
    pub fn imports(&self) -> BTreeMap<String, BTreeSet<String>> {
        let name = |path: &ModulePath| match path.is_empty() {
            true => "lib".to_string(),
            false => path.join("::"),
        };
        self.sources
            .iter()
            .map(|(module, source)| {
                let targets = source.named.iter().filter_map(|path| {
                    let target = self.target(module, path, 0)?;
                    let below = target.len() > module.len() && target.starts_with(module);
                    let only_given = below && source.given.contains(path);
                    (target != *module && !only_given).then(|| name(&target))
                });
                (name(module), targets.collect())
            })
            .collect()
    }

    /// The module in which what a path names is written.
    fn target(&self, from: &ModulePath, path: &[String], depth: usize) -> Option<ModulePath> {
        let mut rest = path;
        let mut at = from.clone();
        match rest.first()?.as_str() {
            "crate" => (at, rest) = (Vec::new(), &rest[1..]),
            "self" => rest = &rest[1..],
            "super" => {
                while rest.first().is_some_and(|word| word == "super") {
                    at.pop()?;
                    rest = &rest[1..];
                }
            }
            child if self.sources.contains_key(&[&at[..], &[child.into()]].concat()) => {}
            name => {
                let whole = self.sources.get(&at)?.in_scope.get(name)?;
                if depth > 8 || whole.first() == path.first() {
                    return None;
                }
                let longer = [whole.as_slice(), &rest[1..]].concat();
                return self.target(from, &longer, depth + 1);
            }
        }
        for (i, word) in rest.iter().enumerate() {
            let deeper = [&at[..], std::slice::from_ref(word)].concat();
            if self.sources.contains_key(&deeper) {
                at = deeper;
            } else if let Some(given) = self.sources.get(&at)?.gives_on.get(word)
                && depth < 8
            {
                let longer = [given.as_slice(), &rest[i + 1..]].concat();
                return self.target(&at, &longer, depth + 1);
            } else {
                break;
            }
        }
        Some(at)
    }
}

/// A way round in circles, if there is one: each module imports the next, the last the first.
pub fn cycle(imports: &BTreeMap<String, BTreeSet<String>>) -> Option<Vec<String>> {
    fn visit<'a>(
        at: &'a str,
        imports: &'a BTreeMap<String, BTreeSet<String>>,
        way: &mut Vec<&'a str>,
        done: &mut BTreeSet<&'a str>,
    ) -> Option<Vec<String>> {
        if let Some(first) = way.iter().position(|module| *module == at) {
            let circle = way[first..].iter().chain([&at]);
            return Some(circle.map(|module| module.to_string()).collect());
        }
        if !done.insert(at) {
            return None;
        }
        way.push(at);
        let found = imports.get(at)?.iter().find_map(|next| visit(next, imports, way, done));
        way.pop();
        found
    }
    let mut done = BTreeSet::new();
    imports.keys().find_map(|start| visit(start, imports, &mut Vec::new(), &mut done))
}

fn read_folder(folder: &Path, at: &mut ModulePath, sources: &mut BTreeMap<ModulePath, Source>) {
    for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let path = entry.path();
        let stem = path.file_stem().unwrap().to_str().unwrap().to_string();
        if path.is_dir() {
            at.push(stem);
            read_folder(&path, at, sources);
            at.pop();
        } else if path.extension().is_some_and(|ending| ending == "rs") && stem != "main" {
            let mut module = at.clone();
            if stem != "mod" && stem != "lib" {
                module.push(stem);
            }
            sources.insert(module, source(&std::fs::read_to_string(&path).unwrap()));
        }
    }
}

/// What a file names. Its own unit tests do not count.
fn source(text: &str) -> Source {
    let text = match text.find("#[cfg(test)]\nmod tests {") {
        Some(end) => &text[..end],
        None => text,
    };
    let words = words(text);
    let mut source = Source::default();
    let mut i = 0;
    while i < words.len() {
        let before = i.checked_sub(1).map_or("", |i| words[i].as_str());
        // `use<'a>` in a signature names what it captures.
        let captures = words.get(i + 1).is_some_and(|word| word == "<");
        if words[i] == "use" && !captures {
            let public = before == "pub" || before == ")";
            i += 1;
            let mut paths = Vec::new();
            use_tree(&words, &mut i, &[], &mut paths);
            for (path, name) in paths {
                if public {
                    source.gives_on.insert(name.clone(), path.clone());
                    source.given.insert(path.clone());
                }
                source.in_scope.insert(name, path.clone());
                source.named.push(path);
            }
        } else if is_name(&words[i]) && before != "::" && before != "mod" {
            let mut path = vec![words[i].clone()];
            while words.get(i + 1).is_some_and(|word| word == "::")
                && words.get(i + 2).is_some_and(|word| is_name(word))
            {
                path.push(words[i + 2].clone());
                i += 2;
            }
            if path.len() > 1 {
                source.named.push(path);
            }
        }
        i += 1;
    }
    source
}

/// The paths of a `use`, each with the name it has here.
fn use_tree(
    words: &[String],
    i: &mut usize,
    stem: &[String],
    paths: &mut Vec<(Vec<String>, String)>,
) {
    let mut path = stem.to_vec();
    loop {
        match words[*i].as_str() {
            "{" => {
                *i += 1;
                while words[*i] != "}" {
                    assert!(words[*i] != ";", "a `use` that does not end: {stem:?}");
                    use_tree(words, i, &path, paths);
                    if words[*i] == "," {
                        *i += 1;
                    }
                }
                *i += 1;
                return;
            }
            "::" => *i += 1,
            "as" => {
                paths.push((path, words[*i + 1].clone()));
                *i += 2;
                return;
            }
            "," | "}" | ";" => {
                if path.last().is_some_and(|last| last == "self") && path.len() > 1 {
                    path.pop();
                }
                let name = path.last().cloned().unwrap_or_default();
                paths.push((path, name));
                return;
            }
            word => {
                if word != "*" {
                    path.push(word.to_string());
                }
                *i += 1;
            }
        }
    }
}

fn is_name(word: &str) -> bool {
    word.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

/// The words of a source, without comments, texts and characters.
fn words(text: &str) -> Vec<String> {
    let letters: Vec<char> = text.chars().collect();
    let at = |i: usize| letters.get(i).copied().unwrap_or('\0');
    let mut words = Vec::new();
    let mut i = 0;
    while i < letters.len() {
        let c = letters[i];
        if c == '/' && at(i + 1) == '/' {
            while i < letters.len() && letters[i] != '\n' {
                i += 1;
            }
        } else if c == 'r' && (at(i + 1) == '"' || at(i + 1) == '#' && at(i + 2) == '"') {
            let hashes = usize::from(at(i + 1) == '#');
            i += 2 + hashes;
            while i < letters.len() && !(letters[i] == '"' && (hashes == 0 || at(i + 1) == '#')) {
                i += 1;
            }
            i += 1 + hashes;
        } else if c == '"' {
            i += 1;
            while i < letters.len() && letters[i] != '"' {
                i += if letters[i] == '\\' { 2 } else { 1 };
            }
            i += 1;
        } else if c == '\'' && (at(i + 1) == '\\' || at(i + 2) == '\'') {
            // Past the escaped or the one letter, then to the closing mark.
            i += if at(i + 1) == '\\' { 3 } else { 2 };
            while i < letters.len() && letters[i] != '\'' {
                i += 1;
            }
            i += 1;
        } else if c.is_alphanumeric() || c == '_' {
            let start = i;
            while i < letters.len() && (letters[i].is_alphanumeric() || letters[i] == '_') {
                i += 1;
            }
            words.push(letters[start..i].iter().collect());
        } else if c == ':' && at(i + 1) == ':' {
            words.push("::".into());
            i += 2;
        } else {
            if !c.is_whitespace() {
                words.push(c.to_string());
            }
            i += 1;
        }
    }
    words
}

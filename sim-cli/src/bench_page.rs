//! The page of the bench: template, scripts, module and car in one file that asks for nothing
//! else. Sources and module lie in `sim-cli/live`.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use sim_core::sound::BEAT;

/// The module, as `sim-cli/live/build-wasm` has built it.
pub const MODULE: &[u8] = include_bytes!("../live/bench.wasm");

const TEMPLATE: &str = include_str!("../live/page/index.html");
const STYLE: &str = include_str!("../live/page/style.css");

/// The scripts, in the order in which they are joined.
const SCRIPTS: &[&str] = &[
    include_str!("../live/page/01-module.js"),
    include_str!("../live/page/02-page.js"),
    include_str!("../live/page/03-bench.js"),
    include_str!("../live/page/04-header.js"),
    include_str!("../live/page/05-meters.js"),
    include_str!("../live/page/06-machine.js"),
    include_str!("../live/page/07-tools.js"),
    include_str!("../live/page/08-notebook.js"),
    include_str!("../live/page/09-strip.js"),
    include_str!("../live/page/10-sound.js"),
    include_str!("../live/page/11-start.js"),
];

/// What goes into the page.
pub struct Contents<'a> {
    /// Name of the rig.
    pub name: &'a str,
    /// The act that puts the car on the bench.
    pub begin: &'a Value,
    /// The drawing of its machine, as SVG; nothing where it is not drawn.
    pub section: &'a str,
}

/// The page of a car.
pub fn page(contents: &Contents<'_>) -> String {
    let script = SCRIPTS.join("\n");
    // Nothing is loaded, sent or framed; the script and the style are these, and no others.
    let policy = format!(
        "default-src 'none'; script-src '{}' 'wasm-unsafe-eval'; style-src '{}'; img-src data:; connect-src 'none'; base-uri 'none'; form-action 'none'",
        hash(&script),
        hash(STYLE)
    );
    let module = STANDARD.encode(MODULE);
    // A session belongs to a car and to a module: a page of others does not take it up.
    let mark = Sha256::digest(format!("{}{module}", contents.begin));
    let mark: String = mark.iter().take(6).map(|byte| format!("{byte:02x}")).collect();
    let data = json!({ "begin": contents.begin, "mark": mark, "voice": voice() });
    // In a data block of a page `<` may not stand: it could end the block.
    let data = data.to_string().replace('<', "\\u003c");
    let name = contents.name.replace('&', "&amp;").replace('<', "&lt;");
    let pieces = [
        ("{{POLICY}}", policy.as_str()),
        ("{{STYLE}}", STYLE),
        ("{{NAME}}", &name),
        ("{{SECTION}}", contents.section),
        ("{{DATA}}", &data),
        ("{{MODULE}}", &module),
        ("{{SCRIPT}}", &script),
    ];
    let mut page = String::new();
    let mut rest = TEMPLATE;
    while let Some((at, (mark, piece))) = pieces
        .iter()
        .filter_map(|piece| Some((rest.find(piece.0)?, piece)))
        .min_by_key(|(at, _)| *at)
    {
        page += &rest[..at];
        page += piece;
        rest = &rest[at + mark.len()..];
    }
    page + rest
}

/// The numbers of the beat, those of `listen`. The page knows a beat's work over the mean; what
/// sounds at 1 indicates what a mean beat of an idle does, within a tenth.
fn voice() -> Value {
    let rings = BEAT.resonances.map(
        |ring| json!({"pitch_hz": ring.pitch_hz, "decay_s": ring.decay_s, "share": ring.share}),
    );
    json!({
        "rise_s": BEAT.rise_s,
        "resonances": rings,
        "least": BEAT.least,
        "most": BEAT.most,
        "level": BEAT.level,
    })
}

/// A source of the policy: the hash of an inline text.
fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_whole_and_asks_for_nothing() {
        let begin = json!({ "act": "begin", "rig": { "name": "</script><b>" } });
        let page = page(&Contents { name: "<b>", begin: &begin, section: "<svg></svg>" });
        assert!(!page.contains("{{"), "a mark is left");
        assert!(!page.contains("</script><b>") && !page.contains("engine <b>"));
        for word in ["http:", "https:", "src=", "@import", "fetch(", "XMLHttpRequest", "WebSocket"]
        {
            let outside = page.replace("http://www.w3.org/2000/svg", "");
            assert!(!outside.contains(word), "{word} in the page");
        }
        assert!(page.len() <= 800_000, "{} bytes", page.len());
        assert!(MODULE.len() <= 500_000, "{} bytes of module", MODULE.len());
    }

    /// FIPS 180-2, appendix B.1: the digest of "abc".
    #[test]
    fn the_hash_is_that_of_the_standard() {
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        let bytes: Vec<u8> =
            (0..32).map(|i| u8::from_str_radix(&abc[2 * i..2 * i + 2], 16).unwrap()).collect();
        assert_eq!(hash("abc"), format!("sha256-{}", STANDARD.encode(bytes)));
    }
}

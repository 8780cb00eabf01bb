//! The page of the bench: template, scripts, module and car in one file that asks for nothing
//! else. Sources and module lie in `sim-cli/live`.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::Value;
use sha2::{Digest, Sha256};

/// The module, as `sim-cli/live/build-wasm` has built it.
pub const MODULE: &[u8] = include_bytes!("../live/bench.wasm");

const TEMPLATE: &str = include_str!("../live/page/index.html");
const STYLE: &str = include_str!("../live/page/style.css");

/// The scripts, in the order in which they are joined.
const SCRIPTS: &[&str] =
    &[include_str!("../live/page/module.js"), include_str!("../live/page/bench.js")];

/// The page of a car: `begin` is the act that puts it on the bench.
pub fn page(begin: &Value) -> String {
    let script = SCRIPTS.join("\n");
    // Nothing is loaded, sent or framed; the script and the style are these, and no others.
    let policy = format!(
        "default-src 'none'; script-src '{}' 'wasm-unsafe-eval'; style-src '{}'; img-src data:; connect-src 'none'; base-uri 'none'; form-action 'none'",
        hash(&script),
        hash(STYLE)
    );
    // In a data block of a page `<` may not stand: it could end the block.
    let begin = begin.to_string().replace('<', "\\u003c");
    let pieces = [
        ("{{policy}}", policy.as_str()),
        ("{{style}}", STYLE),
        ("{{begin}}", &begin),
        ("{{module}}", &STANDARD.encode(MODULE)),
        ("{{script}}", &script),
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

/// A source of the policy: the hash of an inline text.
fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_page_is_whole_and_asks_for_nothing() {
        let page = page(&json!({ "act": "begin", "rig": { "name": "</script><b>" } }));
        assert!(!page.contains("{{"), "a mark is left");
        assert!(!page.contains("</script><b>"));
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

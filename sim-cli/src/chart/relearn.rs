//! The chart of relearning: each stored cell over the starts.

use crate::drawing::axes::Axis;
use crate::drawing::page::Page;
use crate::drawing::panels::{Panel, Stack};
use crate::drawing::picture::Picture;
use crate::results::relearn::Learned;
use crate::text::typeset;

/// Draws the cells.
pub fn picture(learned: &Learned) -> Picture {
    let words = learned.scenario.words().replace("warm point", "driven");
    let page = Page::new(&learned.finding(), &words, &learned.command);
    let x = Axis::between(0.0, learned.found.starts.len().max(1) as f64, 8);
    let limit = 1e3 * learned.first.limit_a;
    let cell = |i: usize| {
        let before = (0.0, Some(1e3 * learned.first.added_a[i]));
        let cells = learned.found.starts.iter().enumerate();
        let cells = cells.map(|(n, start)| ((n + 1) as f64, Some(1e3 * start.cells_a[i])));
        let panel = Panel::new(
            &format!("cell about {:.0} kg/h of air [mA]", 3600.0 * learned.first.centre_kg_s[i]),
            Axis::stepped(-1.1 * limit, 1.1 * limit, 0.5 * limit),
            std::iter::once(before).chain(cells).collect(),
        );
        let Some(asked_a) = learned.found.wanted_a[i] else { return panel };
        let shown = (1e4 * asked_a).round() / 10.0 + 0.0;
        let words = typeset(&format!("dashed: asked for, {shown:.1} mA"));
        panel.limit((1e3 * asked_a).clamp(-limit, limit), words)
    };
    let panels: Vec<Panel> = (0..learned.first.centre_kg_s.len()).map(cell).collect();
    let description = format!("The stored current of four cells over the starts. {}.", page.title);
    Stack { x: (&x, "starts since the battery was off"), panels: &panels, top: page.top() }
        .plain_picture(page, description)
}

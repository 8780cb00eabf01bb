//! The chart of relearning: each stored cell over the starts.

use super::draw::svg;
use super::panels::{
    Axis, OVER, Panel, footer, footer_lines, heading, heading_height, panel_height, under,
};
use super::picture::Picture;
use super::theme::WIDTH;
use crate::results::relearn::Learned;
use crate::text::typeset;

/// Draws the cells.
pub fn picture(learned: &Learned) -> Picture {
    let title = typeset(&learned.finding());
    let subtitle = typeset(&learned.scenario.words().replace("warm point", "driven"));
    let count = learned.found.starts.len().max(1) as f64;
    let mut x = Axis::round([0.0, count].into_iter(), 8);
    (x.low, x.high) = (0.0, count);
    x.ticks.retain(|(at, _)| *at <= count);
    let limit = 1e3 * learned.first.limit_a;
    let panels: Vec<Panel> = (0..learned.first.centre_kg_s.len())
        .map(|i| {
            let before = (0.0, Some(1e3 * learned.first.added_a[i]));
            let cells = learned.found.starts.iter().enumerate();
            let cells = cells.map(|(n, start)| ((n + 1) as f64, Some(1e3 * start.cells_a[i])));
            let asked = learned.found.wanted_a[i].map(|a| {
                let ma = (1e3 * a).clamp(-limit, limit);
                let shown = (1e4 * a).round() / 10.0 + 0.0;
                (ma, format!("dashed: asked for, {shown:.1} mA"))
            });
            let centre = 3600.0 * learned.first.centre_kg_s[i];
            Panel {
                title: format!("cell about {centre:.0} kg/h of air [mA]"),
                axis: Axis::stepped(-1.1 * limit, 1.1 * limit, 0.5 * limit),
                curve: std::iter::once(before).chain(cells).collect(),
                limit: asked.map(|(ma, words)| (ma, typeset(&words))),
                target: None,
            }
        })
        .collect();
    let first = heading_height(&title, &subtitle);
    let tops: Vec<f64> =
        (0..panels.len()).map(|i| first + OVER + i as f64 * (panel_height() + OVER)).collect();
    let bottom = tops[panels.len() - 1] + panel_height();
    let height = (bottom + 58.0 + 16.0 * footer_lines(&learned.command).len() as f64).ceil();
    let drawing = svg(WIDTH, height, |canvas| {
        canvas.fill((0.0, 0.0), (WIDTH, height), (255, 255, 255));
        heading(canvas, &title, &subtitle);
        for (panel, &top) in panels.iter().zip(&tops) {
            panel.draw(canvas, &x, top);
        }
        let end = under(canvas, &x, bottom, "starts since the battery was off");
        footer(canvas, &learned.command, end);
    });
    let description = format!("The stored current of four cells over the starts. {title}.");
    Picture { width: WIDTH, top: 0.0, height, title, description, drawing }
}

//! The picture of the page: said against seen, as an SVG that any browser draws.

use std::fmt::Write;

use super::counts::{Bin, Counts};
use super::figures::standard_error;

const SIDE: f64 = 400.0;
const LEFT: f64 = 64.0;
const TOP: f64 = 20.0;
/// Groups with fewer predictions are left out: their place is chance.
const FEWEST: u64 = 30;

fn x(p: f64) -> f64 {
    LEFT + SIDE * p
}

fn y(p: f64) -> f64 {
    TOP + SIDE * (1.0 - p)
}

/// The reliability diagram of two worlds: the program's own, and one that goes another way.
pub fn reliability(own: &Counts, own_title: &str, other: &Counts, other_title: &str) -> String {
    let mut svg = String::new();
    let (wide, high) = (x(1.0) + 24.0, y(0.0) + 60.0);
    let _ = writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide:.0} {high:.0}\" width=\"{wide:.0}\" \
         height=\"{high:.0}\" font-family=\"sans-serif\" font-size=\"13\" fill=\"#222\">\n\
         <title>What was said against what was so</title>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>"
    );
    frame(&mut svg);
    points(&mut svg, other, false);
    points(&mut svg, own, true);
    for (at, (title, filled)) in [(own_title, true), (other_title, false)]
        .into_iter()
        .enumerate()
    {
        let line = y(0.97) + 22.0 * at as f64;
        dot(&mut svg, (x(0.05), line), 5.0, filled);
        text(&mut svg, (x(0.08), line + 4.0), "start", title);
    }
    svg.push_str("</svg>\n");
    svg
}

fn frame(svg: &mut String) {
    let _ = writeln!(
        svg,
        "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{SIDE:.1}\" height=\"{SIDE:.1}\" fill=\"none\" stroke=\"#222\"/>",
        x(0.0),
        y(1.0)
    );
    for tenth in (0..=10).step_by(2) {
        let p = f64::from(tenth) / 10.0;
        let label = format!("{} %", tenth * 10);
        text(svg, (x(p), y(0.0) + 20.0), "middle", &label);
        text(svg, (x(0.0) - 8.0, y(p) + 4.0), "end", &label);
        if tenth > 0 && tenth < 10 {
            line(svg, (x(p), y(0.0)), (x(p), y(1.0)), "#ddd");
            line(svg, (x(0.0), y(p)), (x(1.0), y(p)), "#ddd");
        }
    }
    line(svg, (x(0.0), y(0.0)), (x(1.0), y(1.0)), "#888");
    text(
        svg,
        (x(0.5), y(0.0) + 46.0),
        "middle",
        "said: chance of not being the cross on the label",
    );
    let _ = writeln!(
        svg,
        "<text transform=\"translate(16 {:.1}) rotate(-90)\" text-anchor=\"middle\">so: share that was not</text>",
        y(0.5)
    );
}

fn points(svg: &mut String, counts: &Counts, filled: bool) {
    let enough = |bin: &&Bin| bin.n >= FEWEST;
    for bin in counts.reliability.bins.iter().filter(enough) {
        let n = bin.n as f64;
        let (said, so, reach) = (bin.said / n, bin.off as f64 / n, 2.0 * standard_error(bin));
        let (low, high) = ((so - reach).max(0.0), (so + reach).min(1.0));
        let ink = if filled { "#5b2a86" } else { "#b3541e" };
        line(svg, (x(said), y(low)), (x(said), y(high)), ink);
        dot(svg, (x(said), y(so)), 2.0 + n.log10(), filled);
    }
}

fn dot(svg: &mut String, (x, y): (f64, f64), radius: f64, filled: bool) {
    let (fill, ink) = if filled {
        ("#5b2a86", "#5b2a86")
    } else {
        ("#fff", "#b3541e")
    };
    let _ = writeln!(
        svg,
        "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"{fill}\" stroke=\"{ink}\" stroke-width=\"1.5\"/>"
    );
}

fn line(svg: &mut String, from: (f64, f64), to: (f64, f64), ink: &str) {
    let _ = writeln!(
        svg,
        "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"{ink}\"/>",
        from.0, from.1, to.0, to.1
    );
}

fn text(svg: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{words}</text>"
    );
}

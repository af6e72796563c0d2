//! All section sheets as one PDF (ISO 32000-1), one per page. Every page is as large as its drawing. Printed at 100 % the drawings are full size.

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str};

use crate::template::{LETTER, Template};

/// Points, the unit of the format, per millimetre: 72 per inch of 25.4 mm.
const POINTS: f64 = 72.0 / 25.4;
/// Line widths, mm.
const THIN: f32 = 0.15;
/// Width of the outline, mm (chosen: heavier than the other lines).
const OUTLINE: f32 = 0.2;

/// The sheets as one PDF, in their order. The font is Helvetica, which every PDF reader includes. Characters outside ASCII become `?`.
#[must_use]
pub fn templates_pdf(sheets: &[Template]) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let (catalog, tree, font) = (Ref::new(1), Ref::new(2), Ref::new(3));
    let page_ref = |i: usize| Ref::new(4 + 2 * i as i32);
    let content_ref = |i: usize| Ref::new(5 + 2 * i as i32);
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree).kids((0..sheets.len()).map(page_ref)).count(sheets.len() as i32);
    pdf.type1_font(font).base_font(Name(b"Helvetica"));
    for (i, template) in sheets.iter().enumerate() {
        let sheet = template.sheet();
        let size = [0, 1].map(|k| (POINTS * (sheet.high[k] - sheet.low[k])) as f32);
        let mut page = pdf.page(page_ref(i));
        page.media_box(Rect::new(0.0, 0.0, size[0], size[1])).parent(tree).contents(content_ref(i));
        page.resources().fonts().pair(Name(b"F1"), font);
        page.finish();
        pdf.stream(content_ref(i), &content(template));
    }
    pdf.finish()
}

fn content(template: &Template) -> Vec<u8> {
    let sheet = template.sheet();
    let at = |p: [f64; 2]| [(p[0] - sheet.low[0]) as f32, (p[1] - sheet.low[1]) as f32];
    let mut c = Content::new();
    // From here on one unit is a millimetre.
    c.transform([POINTS as f32, 0.0, 0.0, POINTS as f32, 0.0, 0.0]);
    c.set_line_width(OUTLINE);
    for (i, p) in template.outline_mm.iter().enumerate() {
        let [x, y] = at(*p);
        if i == 0 {
            c.move_to(x, y)
        } else {
            c.line_to(x, y)
        };
    }
    c.close_path().stroke();
    c.set_line_width(THIN);
    let line = |c: &mut Content, (a, b): ([f64; 2], [f64; 2])| {
        let ([x, y], [u, v]) = (at(a), at(b));
        c.move_to(x, y).line_to(u, v).stroke();
    };
    for l in &sheet.lines {
        line(&mut c, *l);
    }
    c.set_dash_pattern([6.0, 2.0, 1.0, 2.0], 0.0);
    line(&mut c, sheet.chord);
    for (p, words) in &sheet.texts {
        let [x, y] = at(*p);
        let words: Vec<u8> = words.chars().map(|c| if c.is_ascii() { c as u8 } else { b'?' }).collect();
        c.begin_text().set_font(Name(b"F1"), LETTER as f32).next_line(x, y).show(Str(&words)).end_text();
    }
    c.finish().to_vec()
}

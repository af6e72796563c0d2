//! Scripts and styles of the record page for other pages of the project: one 3-D view and one look of drawings.

use crate::drawing::STYLE;

/// Scripts by file name, in the order in which they are needed: `gl.js` draws bodies with WebGL2 (`space3d`), `bodies.js` makes them from the data of a record
/// (`bodies3d`), `orbit.js` turns a view (`orbit3d`). They are classic scripts; each defines the one name in brackets.
pub const SCRIPTS: [(&str, &str); 3] = [
    ("gl.js", include_str!("../assets/gl.js")),
    ("bodies.js", include_str!("../assets/bodies.js")),
    ("orbit.js", include_str!("../assets/orbit.js")),
];

/// Styles by file name: `page.css` has the colours of both themes, tables and the 3-D view, `figure.css` the drawings.
pub const STYLES: [(&str, &str); 2] =
    [("page.css", include_str!("../assets/page.css")), ("figure.css", STYLE)];

//! Closed outlines in the plane: published families, smooth fit, mean line, figures with uncertainty

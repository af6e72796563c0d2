//! What a number means: lengths, angles, speeds and powers as people type them, values with uncertainty

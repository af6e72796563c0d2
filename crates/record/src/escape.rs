//! Escapes text from outside: titles, flags and file names may contain anything.

/// Escapes text for an element or for an attribute in double quotes. Control characters other than line feed and tab become `?`.
#[must_use]
pub(crate) fn html(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(c),
            c if c.is_control() => safe.push('?'),
            c => safe.push(c),
        }
    }
    safe
}

/// Escapes JSON for use inside a script element. `<` occurs only inside strings, where its escape has the same meaning.
#[must_use]
pub(crate) fn json_in_script(json: &str) -> String {
    json.replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}

/// Bytes in base 64 with padding (RFC 4648, section 4).
#[must_use]
pub(crate) fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let word =
            group.iter().enumerate().fold(0_u32, |word, (k, byte)| word | u32::from(*byte) << (16 - 8 * k));
        for k in 0..4 {
            let digit = DIGITS[(word >> (18 - 6 * k) & 63) as usize];
            text.push(if k <= group.len() { char::from(digit) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_a_title_is_shown_not_obeyed() {
        assert_eq!(html("</script><b a=\"'\">&\u{1b}"), "&lt;/script&gt;&lt;b a=&quot;&#39;&quot;&gt;&amp;?");
    }

    #[test]
    fn json_cannot_end_its_script_and_still_means_the_same() {
        let value = serde_json::json!({"t": "</script><!--\u{2028}"});
        let safe = json_in_script(&value.to_string());
        assert!(!safe.contains('<') && !safe.contains('\u{2028}'));
        assert_eq!(serde_json::from_str::<serde_json::Value>(&safe).unwrap(), value);
    }

    #[test]
    fn base_64_agrees_with_the_test_vectors_of_rfc_4648_section_10() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}

/// Bytes as base 64 text (RFC 4648, section 4).
pub fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let word = three.iter().fold(0u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - three.len()));
        for place in 0..4 {
            let sign = SIGNS[(word >> (18 - 6 * place) & 63) as usize];
            text.push(if place <= three.len() { char::from(sign) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::base64;

    /// Test vectors of RFC 4648, section 10.
    #[test]
    fn vectors_of_the_standard() {
        for (plain, coded) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("fooba", "Zm9vYmE="), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}

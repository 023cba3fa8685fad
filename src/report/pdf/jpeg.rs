//! What must be known of a JPEG file before it goes into a PDF as it is.

/// How many colours a JPEG file has: 1 is grey, 3 is RGB or its like, 4 is for print. Nothing where it is no such file.
pub fn colours(file: &[u8]) -> Option<u8> {
    let mut rest = file.strip_prefix(&[0xff, 0xd8])?;
    loop {
        // A marker may have any number of 0xff before it.
        let marker = rest.iter().position(|byte| *byte != 0xff).filter(|fill| *fill > 0)?;
        let kind = rest[marker];
        rest = &rest[marker + 1..];
        match kind {
            // Markers without a length.
            0x01 | 0xd0..=0xd7 => continue,
            // The picture begins, or ends, without a frame.
            0xd9 | 0xda => return None,
            _ => {}
        }
        let length = usize::from(u16::from_be_bytes([*rest.first()?, *rest.get(1)?]));
        let segment = rest.get(2..length)?;
        // A frame: SOF0 to SOF15 but for tables of codes (c4), an extension (c8) and conditions (cc).
        if matches!(kind, 0xc0..=0xcf) && !matches!(kind, 0xc4 | 0xc8 | 0xcc) {
            return segment.get(5).copied();
        }
        rest = &rest[length..];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(colour: image::ExtendedColorType, depth: usize) -> Vec<u8> {
        let mut file = Vec::new();
        image::codecs::jpeg::JpegEncoder::new(&mut file).encode(&vec![90; 64 * depth], 8, 8, colour).unwrap();
        file
    }

    #[test]
    fn grey_and_rgb_are_told_apart() {
        let grey = picture(image::ExtendedColorType::L8, 1);
        assert_eq!(colours(&grey), Some(1));
        let rgb = picture(image::ExtendedColorType::Rgb8, 3);
        assert_eq!(colours(&rgb), Some(3));
        for end in 0..rgb.len() {
            let _ = colours(&rgb[..end]);
        }
    }

    #[test]
    fn anything_else_is_no_picture() {
        for file in [
            &b""[..],
            b"\xff\xd8",
            b"\x89PNG\r\n",
            b"\xff\xd8\xff\xe0\x00\x00",
            b"\xff\xd8\xff\xff\xff",
            b"\xff\xd8\xff\xd9",
        ] {
            assert_eq!(colours(file), None, "{file:?}");
        }
    }
}

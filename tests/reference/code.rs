//! Codes read back: QR by another program's reader and against the printed capacities, Code 128 by the table of its symbols.

use proptest::prelude::*;
use purfle::printing::code::{CodeProblem, code128_svg, qr_svg};

use super::rows;

const CAPACITY: &str = include_str!("data/qr_capacity.csv");

/// The dark and light modules of a picture, quiet zone and all.
struct Modules {
    width: usize,
    height: usize,
    dark: Vec<bool>,
}

impl Modules {
    /// Reads our SVG: a view box in modules, and one path of rectangles `M{x} {y}h{w}v{h}h-{w}z`.
    fn read(svg: &str) -> Self {
        let attribute = |name: &str| {
            svg.split_once(&format!("{name}=\""))
                .unwrap()
                .1
                .split_once('"')
                .unwrap()
                .0
        };
        let size = numbers(attribute("viewBox"));
        let mut modules = Self {
            width: size[2],
            height: size[3],
            dark: vec![false; size[2] * size[3]],
        };
        for rectangle in attribute(" d").split_terminator('z') {
            let [x, y, w, h, back] = numbers(rectangle)[..] else {
                panic!("{rectangle}")
            };
            assert_eq!(rectangle, format!("M{x} {y}h{w}v{h}h-{back}"));
            assert_eq!(w, back, "{rectangle} is closed");
            for (across, down) in (x..x + w).flat_map(|across| (y..y + h).map(move |down| (across, down))) {
                modules.dark[down * modules.width + across] = true;
            }
        }
        modules
    }

    fn is_dark(&self, x: usize, y: usize) -> bool {
        self.dark[y * self.width + x]
    }

    /// How many light modules surround the code on its narrowest side, left or right.
    fn quiet(&self) -> (usize, usize) {
        let columns: Vec<bool> = (0..self.width)
            .map(|x| (0..self.height).any(|y| self.is_dark(x, y)))
            .collect();
        let light = |column: &bool| !*column;
        (
            columns.iter().take_while(|c| light(c)).count(),
            columns.iter().rev().take_while(|c| light(c)).count(),
        )
    }
}

fn numbers(text: &str) -> Vec<usize> {
    text.split(|sign: char| !sign.is_ascii_digit())
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().unwrap())
        .collect()
}

/// Four grey pixels to the module, as a camera would see it, read by rqrr.
pub fn scanned(svg: &str) -> (rqrr::MetaData, String) {
    const SCALE: usize = 4;
    let modules = Modules::read(svg);
    let grey = |x: usize, y: usize| {
        if modules.is_dark(x / SCALE, y / SCALE) {
            20
        } else {
            235
        }
    };
    let (width, height) = (modules.width * SCALE, modules.height * SCALE);
    let mut image = rqrr::PreparedImage::prepare_from_greyscale(width, height, grey);
    let grids = image.detect_grids();
    assert_eq!(grids.len(), 1);
    grids[0].decode().unwrap()
}

#[test]
fn a_scanner_reads_what_was_put_in() {
    let long = "a".repeat(500);
    for text in [
        "https://shop.example/t/10427",
        "10427",
        "HTTPS://SHOP.EXAMPLE/T/10427",
        "Größe ⅞, „summt“ auf H",
        "弦の高さ",
        &long,
    ] {
        let (_, content) = scanned(&qr_svg(text).unwrap());
        assert_eq!(content, text);
    }
}

/// The format bits of ISO/IEC 18004 say 0 for level M (from memory; L is 1, Q is 3, H is 2).
#[test]
fn the_level_is_m_and_the_quiet_zone_four() {
    let svg = qr_svg("https://shop.example/t/10427").unwrap();
    assert_eq!(scanned(&svg).0.ecc_level, 0);
    let modules = Modules::read(&svg);
    assert_eq!(modules.quiet(), (4, 4));
    assert!(
        (0..modules.width)
            .all(|x| (0..4).all(|y| !modules.is_dark(x, y) && !modules.is_dark(x, modules.height - 1 - y)))
    );
    // The corner of the finder pattern, which is where the zone ends above and below.
    assert!(modules.is_dark(4, 4) && modules.is_dark(4, modules.height - 5));
}

#[test]
fn each_version_holds_what_its_table_says() {
    for row in rows(CAPACITY) {
        let side: usize = row.number("computed_modules_per_side").unwrap();
        // Small letters need bytes, capitals the alphanumeric mode, digits the numeric. The last is three bytes that could
        // be packed as Shift JIS, which a reader would then show as other signs.
        for (letter, kind) in [
            ("a", "byte"),
            ("A", "alphanumeric"),
            ("7", "numeric"),
            ("é", "byte"),
            ("あ", "byte"),
        ] {
            let most: usize = row.number(&format!("computed_{kind}_chars")).unwrap();
            let published = row.number(&format!("published_{kind}_chars"));
            assert!(
                published.is_none_or(|printed: usize| printed == most),
                "{}",
                row.source()
            );
            let fits = qr_svg(&letter.repeat(most / letter.len())).unwrap();
            assert_eq!(Modules::read(&fits).width, side + 8, "{letter} {}", row.source());
            match qr_svg(&letter.repeat(most / letter.len() + 1)) {
                Ok(larger) => assert_eq!(
                    Modules::read(&larger).width,
                    side + 4 + 8,
                    "{letter} {}",
                    row.source()
                ),
                Err(problem) => assert_eq!(
                    (problem, side),
                    (CodeProblem::TooLong, 177),
                    "{letter} {}",
                    row.source()
                ),
            }
        }
    }
}

#[test]
fn a_code_says_aloud_what_it_holds_and_stays_one_picture() {
    let svg = qr_svg("https://shop.example/?a=1&b=\"><script>'\u{1b}").unwrap();
    let label = "aria-label=\"QR code: https://shop.example/?a=1&amp;b=&quot;&gt;&lt;script&gt;&#39;\"";
    assert!(
        svg.contains(label) && svg.contains("role=\"img\"") && svg.contains("shape-rendering=\"crispEdges\"")
    );
    assert_eq!((svg.matches('<').count(), svg.matches("<path").count()), (4, 1));
    assert!(svg.contains("fill=\"#fff\"") && svg.contains("fill=\"#000\""));
}

#[test]
fn there_is_no_code_for_nothing_or_for_letters() {
    assert_eq!(qr_svg(""), Err(CodeProblem::Nothing));
    assert_eq!(qr_svg(&"é".repeat(1166)), Err(CodeProblem::TooLong));
    assert_eq!(code128_svg(""), Err(CodeProblem::Nothing));
    assert_eq!(code128_svg("1042X"), Err(CodeProblem::NotDigits));
    assert_eq!(code128_svg("\u{661}"), Err(CodeProblem::NotDigits));
    assert_eq!(code128_svg(&"1".repeat(21)), Err(CodeProblem::TooLong));
}

#[test]
fn every_bar_code_reads_back() {
    let tags = (1000..11_000)
        .step_by(97)
        .map(|number: i64| purfle::counter::tag::from_number(number));
    let any = ["0", "7", "00", "99", "000", "0123456789", "12345678901234567890"].map(String::from);
    for digits in tags.chain(any) {
        assert_eq!(bars_read(&code128_svg(&digits).unwrap()), digits);
    }
}

/// Two digits a symbol: start, pairs, for an odd digit a change of set and itself, check, and the longer stop.
#[test]
fn digits_go_in_pairs_between_quiet_zones_of_ten() {
    for (digits, symbols) in [("1042", 2), ("10427", 4), ("104275", 3)] {
        let modules = Modules::read(&code128_svg(digits).unwrap());
        assert_eq!(modules.width, 10 + 11 * (1 + symbols + 1) + 13 + 10, "{digits}");
        assert_eq!(modules.quiet(), (10, 10));
    }
}

/// Bar and space widths of the symbols 0 to 105 of ISO/IEC 15417, from memory; the next test checks what the standard says of them.
const SYMBOLS: &str = "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 \
     113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321 \
     232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 \
     211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 121124 \
     121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 \
     114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 114311 411113 411311 113141 \
     114131 311141 411131 211412 211214 211232";
const STOP: &str = "2331112";

/// Of every symbol: eleven modules, an even number of them dark, and no two alike. There are 106 such symbols used.
#[test]
fn the_table_of_symbols_holds_together() {
    let mut symbols: Vec<&str> = SYMBOLS.split_whitespace().collect();
    for symbol in &symbols {
        let widths: Vec<u32> = symbol.chars().map(|width| width.to_digit(10).unwrap()).collect();
        assert_eq!((widths.len(), widths.iter().sum()), (6, 11), "{symbol}");
        assert_eq!(widths.iter().step_by(2).sum::<u32>() % 2, 0, "{symbol}");
    }
    symbols.sort_unstable();
    symbols.dedup();
    assert_eq!(symbols.len(), 106);
}

/// A reader of Code 128 for digits: start, sets B and C, checksum and stop.
pub fn bars_read(svg: &str) -> String {
    let modules = Modules::read(svg);
    let row: Vec<bool> = (0..modules.width).map(|x| modules.is_dark(x, 0)).collect();
    assert!((1..modules.height).all(|y| (0..modules.width).all(|x| modules.is_dark(x, y) == row[x])));
    let widths: Vec<String> = row
        .chunk_by(|one, next| one == next)
        .map(|run| run.len().to_string())
        .collect();
    let widths = widths[1..widths.len() - 1].concat();
    let (symbols, stop) = widths.split_at(widths.len() - STOP.len());
    assert_eq!(stop, STOP);
    let table: Vec<&str> = SYMBOLS.split_whitespace().collect();
    let values: Vec<usize> = symbols
        .as_bytes()
        .chunks(6)
        .map(|symbol| table.iter().position(|known| known.as_bytes() == symbol).unwrap())
        .collect();
    let (check, values) = values.split_last().unwrap();
    let weighted: usize = values
        .iter()
        .enumerate()
        .map(|(at, value)| at.max(1) * value)
        .sum();
    assert_eq!(weighted % 103, *check);
    text_of(values)
}

fn text_of(values: &[usize]) -> String {
    const CODE_C: usize = 99;
    const CODE_B: usize = 100;
    const START_B: usize = 104;
    const START_C: usize = 105;
    let (start, values) = values.split_first().unwrap();
    let mut pairs = match *start {
        START_B => false,
        START_C => true,
        other => panic!("start {other}"),
    };
    let mut text = String::new();
    for &value in values {
        match (pairs, value) {
            (true, CODE_B) => pairs = false,
            (false, CODE_C) => pairs = true,
            (true, pair @ 0..100) => text.extend(format!("{pair:02}").chars()),
            (false, sign @ 0..96) => text.push(char::from(u8::try_from(sign + 32).unwrap())),
            (_, other) => panic!("symbol {other}"),
        }
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_address_scans(path in "[a-zA-Z0-9/?=&%._~-]{1,120}") {
        let text = format!("https://shop.example/{path}");
        prop_assert_eq!(scanned(&qr_svg(&text).unwrap()).1, text);
    }

    #[test]
    fn any_digits_read_back(digits in "[0-9]{1,20}") {
        prop_assert_eq!(bars_read(&code128_svg(&digits).unwrap()), digits);
    }
}

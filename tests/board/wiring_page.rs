//! The page about the wiring and its drawings name the same pins and parts, and the pins are those that the image takes.

use std::collections::BTreeSet;

use tests::board_image::source_tree;

/// What stands at each of the board's forty places, from 1 on: the public pinout of the board.
const PLACES: [&str; 40] = [
    "GP0", "GP1", "GND", "GP2", "GP3", "GP4", "GP5", "GND", "GP6", "GP7", "GP8", "GP9", "GND", "GP10",
    "GP11", "GP12", "GP13", "GND", "GP14", "GP15", "GP16", "GP17", "GND", "GP18", "GP19", "GP20", "GP21",
    "GND", "GP22", "RUN", "GP26", "GP27", "AGND", "GP28", "ADC_VREF", "3V3(OUT)", "3V3_EN", "GND", "VSYS",
    "VBUS",
];
/// The lamp has no place, and what was joined to the needle's pin on older boards is not used any more.
const LAMP: &str = "GP25";
const FREE: &str = "GP14";

fn file(name: &str) -> String {
    std::fs::read_to_string(source_tree().join("firmware").join(name)).unwrap()
}

/// The words of a text that begin with `start` and go on with digits alone.
fn numbered(text: &str, start: &str) -> BTreeSet<String> {
    text.split(|letter: char| !letter.is_ascii_alphanumeric() && letter != '_')
        .filter(|word| {
            word.strip_prefix(start)
                .is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|it| it.is_ascii_digit()))
        })
        .map(str::to_owned)
        .collect()
}

/// The lettering of a drawing, in its order.
fn lettering(drawing: &str) -> Vec<&str> {
    drawing
        .split("<text ")
        .skip(1)
        .filter_map(|piece| Some(piece.split_once("</text>")?.0.split_once('>')?.1))
        .collect()
}

fn stand_beside_each_other(drawing: &str, first: &str, second: &str) -> bool {
    lettering(drawing)
        .windows(2)
        .any(|pair| pair[0] == first && (pair[1] == second || pair[1].starts_with(&format!("{second} "))))
}

/// The cells of the page's tables, row by row.
fn rows(page: &str) -> Vec<Vec<&str>> {
    let is_row = |line: &&str| line.starts_with('|');
    page.lines().map(str::trim).filter(is_row).map(|line| line.split('|').map(str::trim).collect()).collect()
}

#[test]
fn the_page_names_the_pins_that_the_image_takes_and_no_others() {
    let taken: BTreeSet<String> = numbered(&file("pico/src/main.rs"), "PIN_")
        .iter()
        .map(|pin| pin.replace("PIN_", "GP"))
        .chain([FREE.to_owned()])
        .collect();
    assert_eq!(numbered(&file("WIRING.md"), "GP"), taken);
}

#[test]
fn the_drawing_has_all_forty_places_by_number() {
    let drawing = file("pictures/wiring.svg");
    for (number, name) in (1..).zip(PLACES) {
        assert!(stand_beside_each_other(&drawing, &format!("{number}"), name), "{number} {name}");
    }
}

#[test]
fn each_pin_of_the_page_s_tables_has_the_number_of_its_place() {
    let page = file("WIRING.md");
    let mut told = BTreeSet::new();
    for row in rows(&page).iter().filter(|row| row.len() == 5) {
        let name = row[1].split(' ').next().unwrap();
        if PLACES.contains(&name) {
            let number: usize = row[3].parse().unwrap();
            assert_eq!(PLACES[number - 1], name, "place {number}");
            told.insert(name.to_owned());
        }
    }
    for pin in numbered(&page, "GP") {
        assert!([LAMP, FREE].contains(&pin.as_str()) || told.contains(&pin), "{pin} has no row");
    }
    let dial = file("pictures/dial.svg");
    for (number, name) in [(28, "GND"), (29, "GP22"), (31, "GP26"), (33, "AGND"), (36, "3V3(OUT)")] {
        assert_eq!(PLACES[number - 1], name);
        assert!(stand_beside_each_other(&dial, &format!("{number}"), name), "{number} {name}");
    }
}

#[test]
fn each_resistor_and_capacitor_of_the_page_is_drawn_with_its_value_and_the_other_way_round() {
    let page = file("WIRING.md");
    let drawings = [file("pictures/wiring.svg"), file("pictures/dial.svg")];
    let parts = |text: &str| -> BTreeSet<String> {
        numbered(text, "R").into_iter().chain(numbered(text, "C")).collect()
    };
    let drawn: BTreeSet<String> =
        drawings.iter().flat_map(|drawing| parts(&lettering(drawing).join(" "))).collect();
    assert_eq!(parts(&page), drawn);
    for part in drawn {
        let row = rows(&page).into_iter().find(|row| row[1] == part).unwrap();
        let value = row[2].split(" (").next().unwrap();
        let is_shown = |drawing: &String| stand_beside_each_other(drawing, &part, value);
        assert!(drawings.iter().any(is_shown), "{part} {value}");
    }
}

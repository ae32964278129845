//! Builds the board image, says how large it is, and writes the file that is dragged onto the board.
//!
//! `cargo run -p tests --bin board_image`

use tests::board_image::{Contents, FLASH_START, board_image, source_tree};
use tests::uf2::to_uf2;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let image = board_image();
    let contents = Contents::read(image);
    print!("{contents}");
    let file = source_tree().join("target/needlehours-logger.uf2");
    std::fs::write(&file, to_uf2(&contents.pieces, u32::try_from(FLASH_START)?))?;
    println!("image with debug information: {}", image.display());
    println!("drag this onto the board:     {}", file.display());
    Ok(())
}

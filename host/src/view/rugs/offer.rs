//! The client's page of a price: one price and what it includes; no rates, no hours.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::price::cents;
use super::rug_book::style;
use crate::app::rugs::price::ClientOffer;
use crate::view::words::sheet::{Block, Paper, Section, Sheet};
use crate::view::words::{count, size};

/// The page.
#[must_use]
pub fn sheet(offer: &ClientOffer, now: UtcMillis, zone: &TimeZone) -> Sheet {
    let (width, height) = offer.size_mm;
    let size = size(width, height);
    let currency = offer.currency.as_deref().map_or_else(String::new, |name| format!(" {name}"));
    let amount = |of: u64| format!("{}{currency}", cents(of));
    let mut rug = vec![("size", size.clone())];
    rug.extend(offer.style.map(|said| ("pile", style(said).to_owned())));
    rug.extend(offer.colours.map(|colours| ("colours", colours.to_string())));
    let changes = match offer.changes_included {
        0 => "No change of the design".to_owned(),
        changes => count(u64::from(changes), "change of the design", "changes of the design"),
    };
    let usual = || {
        let shipping = if offer.is_shipped { ", and shipping" } else { "; not shipping" };
        format!("Included: design, yarn, cloth, tufting, gluing, shearing and backing{shipping}.")
    };
    let includes = format!(
        "{} {changes} before tufting {} included.",
        offer.included.clone().unwrap_or_else(usual),
        if offer.changes_included > 1 { "are" } else { "is" }
    );
    let pays = vec![("deposit", amount(offer.deposit_cents)), ("balance", amount(offer.balance_cents))];
    let days = count(u64::from(offer.holds_days), "day", "days");
    let holds = match day(now, zone) {
        Some(day) => format!("This price holds for {days} from {day}."),
        None => format!("This price holds for {days}."),
    };
    Sheet {
        title: format!("{size}, {}", offer.maker),
        heading: offer.maker.clone(),
        kind: "Quote",
        paper: Paper::Sheet,
        sections: vec![
            Section::new("Your rug", [Block::Facts(rug)]),
            Section::new("Price", [Block::Strong(amount(offer.price_cents)), Block::Text(includes)]),
            Section::new("Payment", [Block::Facts(pays), Block::Text(holds)]),
            Section::new("Contact", [Block::Text(offer.contact.clone())]),
        ],
        footer: String::new(),
    }
}

fn day(now: UtcMillis, zone: &TimeZone) -> Option<String> {
    Some(zone.to_datetime(Timestamp::from_millisecond(now.0).ok()?).date().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_client_reads_one_price_and_neither_rates_nor_hours() {
        let offer = ClientOffer {
            size_mm: (800, 1_200),
            style: None,
            colours: Some(5),
            price_cents: 55_001,
            deposit_cents: 27_501,
            balance_cents: 27_500,
            currency: Some("EUR".to_owned()),
            is_shipped: false,
            changes_included: 2,
            holds_days: 30,
            included: None,
            maker: "<b>Studio</b>".to_owned(),
            contact: "at the door".to_owned(),
        };
        let page = sheet(&offer, UtcMillis(0), &TimeZone::UTC).html();
        for said in
            ["550.01 EUR", "275.01 EUR", "275.00 EUR", "2 changes", "30 days from 1970-01-01", "at the door"]
        {
            assert!(page.contains(said), "{said}");
        }
        let own = ClientOffer { included: Some("Without <i>delivery</i>.".to_owned()), ..offer };
        let own = sheet(&own, UtcMillis(0), &TimeZone::UTC).html();
        assert!(
            own.contains("Without &lt;i&gt;delivery") || own.contains("Without &#60;i&#62;delivery"),
            "{own}"
        );
        assert!(own.contains("2 changes") && !own.contains("gluing"), "{own}");
        assert!(!page.contains("<b>Studio") && !page.contains("hour") && !page.contains("wage"), "{page}");
    }
}

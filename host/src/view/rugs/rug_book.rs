//! What is told about commissions, repeated for the maker, and everything that was ever said about one.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::price;
use crate::app::money::HistoryLine;
use crate::app::rugs::commission::{StageOutcome, Weighing};
use crate::app::rugs::goes_with::GoesWith;
use crate::app::rugs::history::{RugHistory, TakenBack};
use crate::app::rugs::timer_name;
use crate::view::money::{self, entries, money};
use crate::view::words::{all_of, clock, count, moment, run_time, size, thousands};
use host_core::entries::{
    DoubtAnswer, DoubtAnswered, EntryBody, MaterialUsed, Owner, RugDescribed, RugRenamed, SessionNoted,
    Stage, Style, WorkChange, YarnMove, YarnWeighed,
};
use host_core::hours::reassignments::Reassignment;
use host_core::records::when::When;
use host_core::sessions::holder::Basis;
use host_core::sessions::session_list::CountedTo;

/// "cut pile".
#[must_use]
pub const fn style(style: Style) -> &'static str {
    match style {
        Style::Cut => "cut pile",
        Style::Loop => "loop pile",
        Style::Both => "cut and loop pile",
    }
}

/// " in cut pile"; nothing where no style was said.
#[must_use]
pub const fn of_style(style: Option<Style>) -> &'static str {
    match style {
        None => "",
        Some(Style::Cut) => " in cut pile",
        Some(Style::Loop) => " in loop pile",
        Some(Style::Both) => " in cut and loop pile",
    }
}

/// "outline".
#[must_use]
pub const fn stage_name(stage: Stage) -> &'static str {
    match stage {
        Stage::Outline => "outline",
        Stage::Fill => "fill",
        Stage::Detail => "detail",
        Stage::Rework => "rework",
    }
}

/// Milligrams as "85 g", "12.4 g" or "1.25 kg".
#[must_use]
pub fn weight(mg: u64) -> String {
    let decimals = |whole: u64, rest: u64, width: usize| {
        let text = format!("{whole}.{rest:0width$}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if mg >= 1_000_000 {
        format!("{} kg", decimals(mg / 1_000_000, mg % 1_000_000 / 10_000, 2))
    } else {
        format!("{} g", decimals(mg / 1_000, mg % 1_000 / 100, 1))
    }
}

/// Milligrams as "85 g", "12.4 g" or "1,250 g", for columns: numbers under each other are of one unit.
#[must_use]
pub fn grams(mg: u64) -> String {
    match (mg / 1_000, mg % 1_000 / 100) {
        (whole, 0) => format!("{} g", thousands(whole)),
        (whole, tenths) => format!("{}.{tenths} g", thousands(whole)),
    }
}

/// Tenths of a millimetre as "12 mm" or "12.5 mm".
#[must_use]
pub fn pile(tenths: u32) -> String {
    match tenths % 10 {
        0 => format!("{} mm", tenths / 10),
        rest => format!("{}.{rest} mm", tenths / 10),
    }
}

/// A commission was corrected.
#[must_use]
pub fn corrected(name: &str) -> String {
    format!("{name} is corrected. What was said before stays visible: needlehours rug history \"{name}\"")
}

/// A commission goes by another name.
#[must_use]
pub fn renamed(renamed: &RugRenamed) -> String {
    let RugRenamed { rug, now } = renamed;
    format!(
        "{rug} is called {now} from now on. All that was said of {rug} counts to {now}, and the name {rug} still finds it."
    )
}

/// A stage has begun.
#[must_use]
pub fn stage(outcome: &StageOutcome, zone: &TimeZone) -> String {
    let begun = &outcome.begun;
    let since = clock(begun.at, zone);
    let text = match begun.stage {
        Some(stage) => {
            format!("{} is in {} since {since}, until you say another stage.", begun.rug, stage_name(stage))
        }
        None => format!("{} is in no stage since {since}.", begun.rug),
    };
    let later = outcome.ordered_later.map(|ordered| ordered_later(&begun.rug.0, ordered, zone));
    format!("{text}{}", later.unwrap_or_default())
}

/// A line that tells of an order that was written down only after work on it began.
#[must_use]
pub fn ordered_later(rug: &str, written_down: UtcMillis, zone: &TimeZone) -> String {
    format!(
        "\nIts order was written down only {}. If you know when it was ordered: needlehours rug change \"{rug}\" --when DATE",
        clock(written_down, zone)
    )
}

/// Yarn was weighed.
#[must_use]
pub fn weighed(weighing: &Weighing) -> String {
    let Weighing { weighed, described_colours, .. } = weighing;
    let text = format!("Written down: {}.", yarn_sentence(weighed));
    if described_colours.is_empty() {
        return text;
    }
    let (rug, known) = (&weighed.rug, all_of(described_colours));
    let colours = if described_colours.len() == 1 { "colour" } else { "colours" };
    format!("{text}\n{rug} was described with the {colours} {known}, not with {}.", weighed.colour)
}

fn yarn_sentence(weighed: &YarnWeighed) -> String {
    let moved = match weighed.moved {
        YarnMove::Out => "taken for",
        YarnMove::Back => "brought back from",
        YarnMove::Left => "left with",
    };
    format!("{} of {} {moved} {}", weight(weighed.weight_mg), weighed.colour, weighed.rug)
}

/// Material was used.
#[must_use]
pub fn material(used: &MaterialUsed) -> String {
    format!("Written down for {}: {}, {}.", used.rug, used.what, money(used.amount.units()))
}

/// An entry was taken back.
#[must_use]
pub fn taken_back(back: &TakenBack, zone: &TimeZone) -> String {
    let said = says(&back.entry.body, back.moved.as_ref(), zone);
    let with_it = back.goes_with.as_ref().map(|goes| format!("\n{}", goes_with(goes)));
    format!("Taken back: {said}. It stays visible and counts no more.{}", with_it.unwrap_or_default())
}

/// What counts to a commission no more when its order is taken back.
#[must_use]
pub fn goes_with(goes: &GoesWith) -> String {
    let counted = |number: u64, one: &str, several: &str| (number > 0).then(|| count(number, one, several));
    let timed = |words: Option<String>, ms: u64| words.map(|words| format!("{words} ({})", run_time(ms)));
    let what: Vec<String> = [
        timed(counted(goes.sessions, "session", "sessions"), goes.run_time_ms),
        counted(goes.weighings, "weighing", "weighings"),
        timed(counted(goes.jobs, "job time", "job times"), goes.job_time_ms),
        counted(goes.materials, "material", "materials"),
    ]
    .into_iter()
    .flatten()
    .collect();
    format!(
        "What was counted to {} goes with it: {}. It stays visible and counts to {} no more.",
        goes.rug,
        all_of(&what),
        goes.rug
    )
}

/// Everything that was ever said about a commission.
#[must_use]
pub fn history(history: &RugHistory, zone: &TimeZone) -> String {
    format!(
        "{}: everything that was ever said about it.\n{}",
        history.rug,
        entries(&history.entries, zone, |line| said(line, zone))
    )
}

/// What an entry says; of an assignment, which running went from whom to whom.
#[must_use]
pub fn said(line: &HistoryLine, zone: &TimeZone) -> String {
    says(&line.says, line.moved.as_ref(), zone)
}

fn says(body: &EntryBody, moved: Option<&Reassignment>, zone: &TimeZone) -> String {
    moved.map_or_else(|| sentence(body, zone), |moved| move_sentence(moved, zone))
}

fn move_sentence(moved: &Reassignment, zone: &TimeZone) -> String {
    let to = whose(moved.to, moved.to_rug.as_deref());
    if moved.bursts == 0 {
        return format!("running that is not held here, counted to {to}");
    }
    let (earliest, latest) = (moved.starts_earliest_utc_ms, moved.starts_latest_utc_ms);
    let limits = earliest.zip(latest).map(|(earliest, latest)| (UtcMillis(earliest), UtcMillis(latest)));
    let when = limits.map_or(When::Undated, |(earliest, latest)| {
        if earliest == latest { When::Dated(earliest) } else { When::Between { earliest, latest } }
    });
    let running = format!("{} of running, {}", run_time(moved.run_time_ms), moment(when, zone));
    if moved.is_confirmation {
        return format!("{running}: confirmed for {to}");
    }
    let from: Vec<String> = moved
        .from
        .iter()
        .map(|from| {
            let assumed = if from.because == Basis::Assumed { " (assumed)" } else { "" };
            let whose = whose(from.counted_to, from.rug.as_deref());
            if moved.from.len() == 1 {
                format!("{whose}{assumed}")
            } else {
                format!("{whose}{assumed} {}", run_time(from.run_time_ms))
            }
        })
        .collect();
    format!("{running}: moved from {} to {to}", all_of(&from))
}

fn whose(counted_to: CountedTo, rug: Option<&str>) -> String {
    match counted_to {
        CountedTo::Rug => rug.unwrap_or_default().to_owned(),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody | CountedTo::Undated => "no rug yet".to_owned(),
    }
}

/// What an entry says, in a sentence without its full stop.
#[must_use]
pub fn sentence(body: &EntryBody, zone: &TimeZone) -> String {
    match body {
        EntryBody::RugOrdered(order) => {
            let mut parts = vec![format!("ordered {}", clock(order.at, zone))];
            parts.extend(order.width_mm.zip(order.height_mm).map(|(width, height)| size(width, height)));
            parts.extend(order.cloth_lot.as_ref().map(|lot| format!("cloth {lot}")));
            parts.join(", ")
        }
        EntryBody::RugRenamed(renamed) => {
            format!("called {} from now on, {} before", renamed.now, renamed.rug)
        }
        EntryBody::RugDescribed(described) => made(described),
        EntryBody::RugWork(work) => {
            let what = match work.change {
                WorkChange::Started => "on the frame",
                WorkChange::Paused => "rests",
                WorkChange::Finished => "finished",
                WorkChange::Delivered => "delivered",
            };
            let on = work.machine.map_or_else(String::new, |machine| format!(", machine {}", machine.0));
            format!("{what} since {}{on}", clock(work.at, zone))
        }
        EntryBody::RugPriced(priced) => {
            let amount = price::cents(priced.price_cents);
            let currency = priced.currency.as_deref().map_or_else(String::new, |name| format!(" {name}"));
            format!("priced at {amount}{currency}, {}", clock(priced.at, zone))
        }
        EntryBody::StageBegun(begun) => {
            let stage = begun.stage.map_or("no stage", stage_name);
            format!("stage: {stage} since {}", clock(begun.at, zone))
        }
        EntryBody::YarnWeighed(weighed) => yarn_sentence(weighed),
        EntryBody::MaterialUsed(used) => format!("{}: {}", used.what, money(used.amount.units())),
        EntryBody::JobStarted(started) => {
            format!("timer for {} started {}", timer_name::word(started.job), clock(started.at, zone))
        }
        EntryBody::JobStopped(stopped) => {
            format!("timer of entry {} stopped {}", stopped.started.0, clock(stopped.at, zone))
        }
        EntryBody::JobAdded(added) => {
            format!(
                "{}: {}, {}",
                timer_name::word(added.job),
                run_time(added.lasted_ms),
                clock(added.at, zone)
            )
        }
        EntryBody::HandHours(hours) => typed_in(&hours.into(), zone),
        EntryBody::SessionNoted(session) => typed_in(session, zone),
        EntryBody::BurstsAssigned(assigned) => {
            let to = match &assigned.owner {
                Owner::Rug(rug) => rug.0.clone(),
                Owner::Care => "care".to_owned(),
                Owner::Nobody => "no rug yet".to_owned(),
            };
            format!("records {} to {} counted to {to}", assigned.from.0, assigned.to.0)
        }
        EntryBody::DoubtAnswered(answered) => doubt(*answered),
        EntryBody::MoneyTerms(_)
        | EntryBody::PriceTerms(_)
        | EntryBody::MachineCosts(_)
        | EntryBody::TearCosts(_)
        | EntryBody::SampleSquare(_) => money::sentence(body),
        _ => "something else".to_owned(),
    }
}

fn doubt(answered: DoubtAnswered) -> String {
    let answer = match answered.answer {
        DoubtAnswer::Real => "was real work",
        DoubtAnswer::NotReal => "was no work",
        DoubtAnswer::LeftOpen => "was left out of its rug for now",
    };
    format!("running {} to {} {answer}", answered.from.0, answered.to.0)
}

fn made(described: &RugDescribed) -> String {
    let mut parts = Vec::new();
    parts.extend(described.style.map(|said| style(said).to_owned()));
    parts.extend(described.pile_height_tenths_mm.map(|tenths| format!("pile {}", pile(tenths))));
    if !described.colours.is_empty() {
        parts.push(format!("colours {}", all_of(&described.colours)));
    }
    parts.join(", ")
}

fn typed_in(session: &SessionNoted, zone: &TimeZone) -> String {
    let mut parts = Vec::new();
    parts.extend(session.run.map(|run| format!("{} of running by hand", run_time(run.0))));
    parts.extend(session.frame_ms.map(|ms| format!("{} at the frame by hand", run_time(ms))));
    format!("{}, {}", all_of(&parts), clock(session.at, zone))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_and_heights_are_said_without_idle_noughts() {
        let said = [85_000, 12_400, 1_250_000, 28_350, 2_000_000, 0].map(weight);
        assert_eq!(said, ["85 g", "12.4 g", "1.25 kg", "28.3 g", "2 kg", "0 g"]);
        let columns = [85_000, 12_400, 1_250_000, 28_350, 12_000_000, 0].map(grams);
        assert_eq!(columns, ["85 g", "12.4 g", "1,250 g", "28.3 g", "12,000 g", "0 g"]);
        assert_eq!([120, 125].map(pile), ["12 mm", "12.5 mm"]);
    }
}

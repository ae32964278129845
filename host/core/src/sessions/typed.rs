//! Whose the sessions are that the maker typed in: said, else of the rug that was on the frame then.

use super::holder::{Attribution, Basis, Holder};
use crate::entries::{Certainty, Owner};
use crate::studio::worked::Worked;
use crate::studio::{RugIndex, Studio};

/// To whom a session is counted, and why.
#[must_use]
pub fn attribution(studio: &Studio, session: &Worked) -> Attribution {
    if let Some((owner, certainty)) = &session.given {
        let basis = match certainty {
            Certainty::Explicit => Basis::Explicit,
            Certainty::Confirmed => Basis::Confirmed,
        };
        return match owner {
            Owner::Rug(name) => of_rug(studio.rug_index(name), basis),
            Owner::Care => Attribution { holder: Holder::Care, basis },
            Owner::Nobody => Attribution { holder: Holder::Unassigned, basis },
        };
    }
    match &session.said.rug {
        Some(name) => of_rug(studio.rug_index(name), Basis::Explicit),
        None => on_the_frame(studio, session),
    }
}

fn of_rug(rug: Option<RugIndex>, basis: Basis) -> Attribution {
    rug.map_or(Attribution { holder: Holder::Unassigned, basis: Basis::RugIsGone }, |rug| Attribution {
        holder: Holder::Rug(rug),
        basis,
    })
}

/// The one rug that was on the machine's frame at some time of it.
fn on_the_frame(studio: &Studio, session: &Worked) -> Attribution {
    let (from, to) = session.span();
    let meets = |periods: Vec<(_, Option<_>)>| {
        periods.into_iter().any(|(start, end)| start <= to && end.is_none_or(|end| end > from))
    };
    let mut active = studio
        .rugs
        .iter()
        .enumerate()
        .filter(|(_, rug)| meets(rug.active_periods(Some(session.said.machine))))
        .map(|(place, _)| RugIndex::of(place));
    match (active.next(), active.next()) {
        (Some(rug), None) => Attribution { holder: Holder::Rug(rug), basis: Basis::Assumed },
        (None, _) => Attribution { holder: Holder::Unassigned, basis: Basis::NothingActive },
        (Some(_), Some(_)) => Attribution { holder: Holder::Unassigned, basis: Basis::SeveralActive },
    }
}

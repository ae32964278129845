//! What the maker may know of a tear or near-miss beyond rug and cloth. Everything is optional; unknown stays unknown and is never
//! given a usual value.

use serde::{Deserialize, Serialize};

use super::Stage;

/// How the cloth felt under the hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tension {
    /// It gave way.
    Slack,
    /// Like a drum.
    Right,
    /// Hard, with a rebound.
    Hard,
}

/// Where on the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// In the middle.
    Centre,
    /// Near an edge.
    Edge,
    /// In a corner.
    Corner,
    /// Near an earlier repair.
    NearRepair,
}

/// How the needle's point felt afterwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NeedleLook {
    /// Smooth.
    Smooth,
    /// Rough, with a burr.
    Rough,
}

/// What became of the place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Repair {
    /// Nothing needed, or threads coaxed back.
    Coaxed,
    /// Patched or darned.
    Patched,
    /// The design was moved, or the place hidden.
    Hidden,
    /// The rug was given up.
    Abandoned,
}

/// How the machine was led over the cloth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Travel {
    /// The way the foot points.
    WithFoot,
    /// Slid sideways.
    Sideways,
    /// Backwards.
    Back,
    /// While it was being turned.
    Turning,
}

/// The answers so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Answers {
    /// What was being made.
    pub stage: Option<Stage>,
    /// Whether the machine had been over the spot before.
    pub second_pass: Option<bool>,
    /// Whether yarn had been pulled out there before.
    pub pulled_out_before: Option<bool>,
    /// How the cloth felt.
    pub tension: Option<Tension>,
    /// Where it was.
    pub place: Option<Place>,
    /// The needle's point.
    pub needle: Option<NeedleLook>,
    /// What became of it.
    pub repair: Option<Repair>,
    /// How the machine was led.
    pub travel: Option<Travel>,
    /// Strands of yarn in the needle.
    pub strands: Option<u8>,
}

/// What may still be asked, in the order of what helps most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// On which rug?
    Rug,
    /// How did the cloth feel?
    Tension,
    /// Had the machine been over the spot before?
    SecondPass,
    /// How does the needle's point feel?
    Needle,
    /// What was being made?
    Stage,
    /// How was the machine led?
    Travel,
}

/// More than so many questions at a time nobody answers.
pub const MOST_QUESTIONS: usize = 2;

impl Answers {
    /// These answers, and where they are silent the earlier ones.
    #[must_use]
    pub fn or(self, earlier: Self) -> Self {
        Self {
            stage: self.stage.or(earlier.stage),
            second_pass: self.second_pass.or(earlier.second_pass),
            pulled_out_before: self.pulled_out_before.or(earlier.pulled_out_before),
            tension: self.tension.or(earlier.tension),
            place: self.place.or(earlier.place),
            needle: self.needle.or(earlier.needle),
            repair: self.repair.or(earlier.repair),
            travel: self.travel.or(earlier.travel),
            strands: self.strands.or(earlier.strands),
        }
    }

    /// At most two questions that are still open.
    #[must_use]
    pub fn open(self, rug_is_known: bool) -> Vec<Question> {
        let asked = [
            (Question::Rug, rug_is_known),
            (Question::Tension, self.tension.is_some()),
            (Question::SecondPass, self.second_pass.is_some()),
            (Question::Needle, self.needle.is_some()),
            (Question::Stage, self.stage.is_some()),
            (Question::Travel, self.travel.is_some()),
        ];
        asked
            .into_iter()
            .filter(|(_, is_answered)| !is_answered)
            .map(|(question, _)| question)
            .take(MOST_QUESTIONS)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries;

    #[test]
    fn a_later_answer_adds_and_replaces_and_never_forgets() {
        let first = Answers { stage: Some(Stage::Fill), tension: Some(Tension::Slack), ..Answers::default() };
        let later = Answers { tension: Some(Tension::Right), ..Answers::default() };
        let both = later.or(first);
        assert_eq!(
            (both.stage, both.tension, both.second_pass),
            (Some(Stage::Fill), Some(Tension::Right), None)
        );
    }

    #[test]
    fn entries_from_before_there_were_answers_can_still_be_read() {
        let old: entries::TearDetails =
            serde_json::from_str(r#"{"rug":"Fox","cloth_lot":null,"note":"near the edge"}"#)
                .unwrap_or_default();
        assert_eq!((old.note.as_deref(), old.answers), (Some("near the edge"), Answers::default()));
        // ... and answers from before travel and strands were among them.
        let early: Answers =
            serde_json::from_str(r#"{"stage":"fill","tension":"slack"}"#).unwrap_or_default();
        assert_eq!((early.stage, early.travel, early.strands), (Some(Stage::Fill), None, None));
    }

    #[test]
    fn no_more_than_two_questions_are_asked_and_none_twice() {
        assert_eq!(Answers::default().open(false), vec![Question::Rug, Question::Tension]);
        let felt = Answers { tension: Some(Tension::Slack), ..Answers::default() };
        assert_eq!(felt.open(true), vec![Question::SecondPass, Question::Needle]);
    }
}

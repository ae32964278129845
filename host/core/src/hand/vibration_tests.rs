use super::*;
use proptest::prelude::*;
use rstest::rstest;

fn tool(a_hv_m_s2: f64, minutes: f64) -> ToolUse {
    ToolUse { vibration: Vibration::new(a_hv_m_s2).unwrap(), minutes }
}

fn day(tools: &[(f64, f64)]) -> DailyExposure {
    let tools: Vec<ToolUse> = tools.iter().map(|(a, minutes)| tool(*a, *minutes)).collect();
    daily_exposure(&tools).unwrap()
}

/// The definitions themselves: eight hours at 2.5 m/s² are the action value, at 5 m/s² the limit value; 5 m/s² reaches
/// the action value in a quarter of the time, two hours. `reached` is a billionth wide on both sides.
#[rstest]
#[case::at_action(2.5, 480.0, Standing::Reached, Standing::Below)]
#[case::at_action_in_two_hours(5.0, 120.0, Standing::Reached, Standing::Below)]
#[case::half_a_billionth_below(2.5 * (1.0 - 0.5e-9), 480.0, Standing::Reached, Standing::Below)]
#[case::half_a_billionth_above(2.5 * (1.0 + 0.5e-9), 480.0, Standing::Reached, Standing::Below)]
#[case::two_billionths_below(2.5 * (1.0 - 2e-9), 480.0, Standing::Below, Standing::Below)]
#[case::two_billionths_above(2.5 * (1.0 + 2e-9), 480.0, Standing::Exceeded, Standing::Below)]
#[case::at_limit(5.0, 480.0, Standing::Exceeded, Standing::Reached)]
#[case::at_limit_in_two_hours(10.0, 120.0, Standing::Exceeded, Standing::Reached)]
#[case::above_limit(5.0, 480.1, Standing::Exceeded, Standing::Exceeded)]
#[case::no_time(50.0, 0.0, Standing::Below, Standing::Below)]
#[case::no_vibration(0.0, 1_440.0, Standing::Below, Standing::Below)]
fn a_day_stands_below_at_or_above_the_two_values(
    #[case] a_hv: f64,
    #[case] minutes: f64,
    #[case] action: Standing,
    #[case] limit: Standing,
) {
    let found = day(&[(a_hv, minutes)]);
    assert_eq!((found.action_value, found.limit_value), (action, limit), "{found:?}");
    assert_eq!(found.rules.eu_action, action == Standing::Exceeded);
    assert_eq!(found.rules.uk_action, action != Standing::Below);
    assert_eq!(found.rules.above_limit, limit == Standing::Exceeded);
}

#[test]
fn a_tool_that_does_not_vibrate_never_reaches_a_value() {
    let tools = day(&[(0.0, 60.0), (2.5, 10.0)]).tools;
    assert_eq!((tools[0].minutes_to_action_value, tools[0].minutes_to_limit_value), (None, None));
    assert_eq!(tools[0].points.to_bits(), 0);
    // The definition: 480 and 1,920 minutes; the second is longer than a day and still the answer.
    assert_eq!(tools[1].minutes_to_action_value, Some(480.0));
    assert_eq!(tools[1].minutes_to_limit_value, Some(1_920.0));
    // So weak that its square is zero: it never reaches anything either.
    assert_eq!(day(&[(1e-300, 1.0)]).tools[0].minutes_to_action_value, None);
}

#[test]
fn a_day_without_tools_is_no_exposure() {
    let none = day(&[]);
    assert_eq!((none.a8_m_s2.to_bits(), none.points.to_bits(), none.tools.len()), (0, 0, 0));
}

#[test]
fn times_and_figures_that_cannot_be_are_refused() {
    for figure in [-0.1, f64::NAN, f64::INFINITY, 1_000.1] {
        assert_eq!(Vibration::new(figure), None, "{figure}");
    }
    for minutes in [-1.0, f64::NAN, f64::INFINITY, 1_440.1] {
        assert!(
            matches!(daily_exposure(&[tool(3.0, minutes)]), Err(ExposureProblem::Minutes(_))),
            "{minutes}"
        );
    }
    let two = [tool(3.0, 800.0), tool(4.0, 641.0)];
    assert_eq!(daily_exposure(&two), Err(ExposureProblem::MoreThanADay(1_441.0)));
    // Fourteen thousand four hundred tenths of a minute are a day, whatever their sum in floating point is.
    let tenths: Vec<ToolUse> = (0..14_400).map(|_| tool(1.0, 0.1)).collect();
    assert!((daily_exposure(&tenths).unwrap().a8_m_s2 - 3_f64.sqrt()).abs() < 1e-9);
}

proptest! {
    #[test]
    fn points_add_over_tools_and_are_the_square_of_the_exposure(
        tools in prop::collection::vec((0.0_f64..50.0, 0.0_f64..100.0), 0..14)
    ) {
        let whole = day(&tools);
        let by_tool: f64 = tools.iter().map(|one| day(&[*one]).points).sum();
        prop_assert!((whole.points - by_tool).abs() <= 1e-9 * by_tool.max(1.0));
        let shown: f64 = whole.tools.iter().map(|tool| tool.points).sum();
        prop_assert!((whole.points - shown).abs() <= 1e-9 * shown.max(1.0));
        // A(8) = 2.5 sqrt(points / 100), the ready-reckoner's own rule.
        prop_assert!((whole.a8_m_s2 - 2.5 * (whole.points / 100.0).sqrt()).abs() <= 1e-9 * whole.a8_m_s2.max(1.0));
    }

    #[test]
    fn more_time_or_a_stronger_figure_never_means_less(
        a in 0.0_f64..50.0, minutes in 0.0_f64..700.0, more_a in 0.0_f64..50.0, more_minutes in 0.0_f64..700.0,
    ) {
        let before = day(&[(a, minutes)]);
        for after in [day(&[(a + more_a, minutes)]), day(&[(a, minutes + more_minutes)]), day(&[(a, minutes), (more_a, more_minutes)])] {
            prop_assert!(after.a8_m_s2 >= before.a8_m_s2);
            prop_assert!(after.action_value >= before.action_value && after.limit_value >= before.limit_value);
        }
    }

    #[test]
    fn a_time_split_in_two_is_the_same_dose(a in 0.0_f64..50.0, minutes in 0.0_f64..1_440.0, share in 0.0_f64..=1.0) {
        let parts = day(&[(a, minutes * share), (a, minutes * (1.0 - share))]);
        prop_assert!((parts.a8_m_s2 - day(&[(a, minutes)]).a8_m_s2).abs() < 1e-9);
    }

    #[test]
    fn the_minutes_to_a_value_reach_it(a in 2.6_f64..50.0) {
        let tool = day(&[(a, 1.0)]).tools[0];
        let at = |minutes: Option<f64>| day(&[(a, minutes.unwrap())]);
        prop_assert_eq!(at(tool.minutes_to_action_value).action_value, Standing::Reached);
        if tool.minutes_to_limit_value.is_some_and(|minutes| minutes <= MINUTES_PER_DAY) {
            prop_assert_eq!(at(tool.minutes_to_limit_value).limit_value, Standing::Reached);
        }
    }
}

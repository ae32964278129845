use super::*;
use rstest::rstest;

fn lives(table: &[u8]) -> Result<Vec<Row<2, 1>>, TableError> {
    read(table, ["hours", "replaced"], ["note"], 4)
}

#[test]
fn columns_are_found_by_name_in_any_order_and_others_are_left_alone() {
    let rows =
        lives("\u{feff}Replaced, remark ,HOURS\n1,\"burr, felt\",40\n\n , ,\n0,,55\n".as_bytes()).unwrap();
    assert_eq!((rows.len(), rows[0].line, rows[1].line), (2, 2, 5));
    assert_eq!((&rows[0].cells, &rows[0].beside), (&["40".to_owned(), "1".to_owned()], &[String::new()]));
}

#[test]
fn columns_that_a_table_may_lack_are_read_where_it_has_them() {
    let rows = lives(b"hours,note,replaced\n5,\"burr\nfelt\",1\n9,,0\n").unwrap();
    assert_eq!([&rows[0].beside[0], &rows[1].beside[0]], ["burr\nfelt", ""]);
    assert_eq!((rows[0].line, rows[1].line), (2, 4));
    assert!(
        has_column(b" NOTE \n", "note") && !has_column(b"hours\n", "note") && !has_column(b"\xff\n", "note")
    );
}

#[test]
fn the_marks_of_a_spreadsheet_change_nothing() {
    let plain = lives(b"hours,replaced\n5,1\n9,0\n").unwrap();
    for same in [
        "\u{feff}\"hours\",\"replaced\"\r\n\"5\",\"1\"\r\n\"9\",\"0\"\r\n",
        "hours,replaced,,\n5,1,,\n9,0,,",
        "hours,replaced\r5,1\r9,0\r",
        "\thours\t,\treplaced\n5 , 1,,\n9\t,0",
    ] {
        assert_eq!(lives(same.as_bytes()).unwrap(), plain, "{same:?}");
    }
}

#[rstest]
#[case::short_row("hours,replaced\n5\n", "line 2: replaced is missing")]
#[case::empty_cell("hours,replaced\n5,1\n,1\n", "line 3: hours is missing")]
#[case::after_blank_lines("hours,replaced\n1,1\n\n\n5\n", "line 5: replaced is missing")]
#[case::after_a_blank_line_of_windows("hours,replaced\r\n1,1\r\n\r\n5\r\n", "line 4: replaced is missing")]
#[case::after_lines_that_end_the_old_way("hours,replaced\r1,1\r\r5\r", "line 4: replaced is missing")]
#[case::after_a_cell_of_several_lines(
    "hours,replaced,note\n1,1,\"a\n\nb\"\n\n5\n",
    "line 6: replaced is missing"
)]
#[case::after_blank_lines_before_the_names("\n\nhours,replaced\n\n5\n", "line 5: replaced is missing")]
#[case::no_rows("hours,replaced\n", "line 2: the table has no rows")]
#[case::nothing_at_all("", "line 1: the table has no column hours; it names none")]
#[case::blanks_alone("  \n\n", "line 1: the table has no column hours; it names none")]
#[case::no_column(
    "hours,worn\n5,1\n",
    "line 1: the table has no column replaced; its columns are hours, worn"
)]
#[case::no_column_below_blank_lines(
    "\n\nworn\n",
    "line 3: the table has no column hours; its columns are worn"
)]
#[case::tabs(
    "hours\treplaced\n5\t1\n",
    "line 1: the table has no column hours; write commas between the columns"
)]
#[case::a_column_twice("hours,Hours,replaced\n5,6,1\n", "line 1: the column hours stands there twice")]
#[case::too_many("hours,replaced\n1,1\n1,1\n1,1\n1,1\n1,1\n", "line 6: more than 4 rows")]
#[case::a_decimal_comma(
    "hours,replaced\n5,1\n5,1,0\n",
    "line 3: this row has more cells than line 1 has columns, only 2 cells are wanted; write 2.5, not 2,5"
)]
#[case::an_open_quotation_mark(
    "hours,replaced,note\n5,1,\"burr\n9,1,\n",
    "line 2: a quotation mark is opened here and never closed"
)]
#[case::an_open_quotation_mark_among_the_names(
    "hours,\"replaced\n5,1\n",
    "line 1: a quotation mark is opened here and never closed"
)]
fn a_bad_table_is_told_with_its_line(#[case] table: &str, #[case] words: &str) {
    assert_eq!(lives(table.as_bytes()).unwrap_err().to_string(), words);
}

#[test]
fn semicolons_stand_between_the_cells_where_decimals_are_written_with_commas() {
    let rows = lives(b"hours;replaced;note\n2,5;1;a, b\n").unwrap();
    assert_eq!((rows[0].cells[0].as_str(), rows[0].cells[1].as_str()), ("2,5", "1"));
}

#[test]
fn bytes_that_are_no_text_are_refused_with_their_line() {
    for (table, bad) in [(&b"hours,replaced\n1,1\n\xff,1\n"[..], 3), (b"hours,replaced\n\n\n\xff,1\n", 4)] {
        let told = lives(table).unwrap_err();
        assert!(matches!(told, TableError::Line { line, .. } if line == bad), "{told}");
    }
}

#[test]
fn what_was_typed_stays_on_one_line_of_the_message_and_short() {
    assert_eq!(shown("5 h"), "5 h");
    assert_eq!(shown("a\u{1b}[31m\nb"), "a\\u{1b}[31m\\nb");
    assert_eq!(shown(&"x".repeat(1_000)), format!("{}…", "x".repeat(60)));
}

//! What the commands answer, subject by subject, over studios that are told to the program.

#[path = "../bench_studio/mod.rs"]
mod bench_studio;

mod below_zero;
mod boardless;
mod care;
mod care_parts;
mod care_plan;
mod care_routine;
mod cloth;
mod commission_dates;
mod commissions;
mod costs;
mod costs_commands;
mod doubtful;
mod due_dates;
mod exposure_table;
mod hours_commands;
mod machine_change;
mod machine_names;
mod notebook_tables;
mod people;
mod prices;
mod quote_sheet;
mod rug_history;
mod rug_rename;
mod rug_take_back;
mod second_hand;
mod speed_cost;
mod today;
mod whole_acts;
mod without_logger;
mod worked;
mod worn;

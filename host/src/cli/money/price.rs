//! `rate price`.

use clap::Args;

use crate::app::money::price_terms::PriceTermsTyped;

/// What the price of a rug is worked out from.
#[derive(Debug, Args)]
pub(super) struct PriceArgs {
    /// A kilogram of yarn.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    yarn_per_kg: Option<String>,
    /// Kilograms of yarn for a square metre; four own weighed rugs come before it.
    #[arg(long, value_name = "KG", allow_hyphen_values = true)]
    yarn_kg_per_m2: Option<String>,
    /// Spare yarn, for example 10%.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    yarn_spare: Option<String>,
    /// A metre of the cloth's roll, over its full width.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    cloth_per_m: Option<String>,
    /// Width of the roll, for example 150cm.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    roll_width: Option<String>,
    /// Cloth beyond the rug on each side. Start value: two inches, as makers' pricing guides have it.
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    cloth_margin: Option<String>,
    /// Designing, client and packing for a rug, for example 3h.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    bench_per_rug: Option<String>,
    /// Stretching, tracing, gluing, shearing and backing for a square metre, for example 2h30.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    bench_per_m2: Option<String>,
    /// Mending, a share of the work.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    mending: Option<String>,
    /// Overhead, a share of materials, work and mending.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    overhead: Option<String>,
    /// Shipping, at cost; 0 if fetched.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    shipping: Option<String>,
    /// Margin, added to all costs but shipping.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    margin: Option<String>,
    /// The least price of a rug.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    least: Option<String>,
    /// Round the price up to a multiple of this; 0 for none.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    round_to: Option<String>,
    /// Deposit, a share of the price. Start value: 50%, as makers' order terms have it.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    deposit: Option<String>,
    /// Changes of the design that the price includes. Start value: 1, our assumption.
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    changes: Option<String>,
    /// Days for which a quote holds. Start value: 30, our assumption.
    #[arg(long, value_name = "DAYS", allow_hyphen_values = true)]
    holds_days: Option<String>,
    /// Your name or your studio's, as clients read it.
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    studio: Option<String>,
    /// How clients reach you.
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    contact: Option<String>,
    /// What the price includes, as clients read it, in place of the usual sentence.
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    included: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    pub(super) json: bool,
}

impl From<PriceArgs> for PriceTermsTyped {
    fn from(typed: PriceArgs) -> Self {
        let PriceArgs {
            yarn_per_kg,
            yarn_kg_per_m2,
            yarn_spare,
            cloth_per_m,
            roll_width,
            cloth_margin,
            bench_per_rug,
            bench_per_m2,
            mending,
            overhead,
            shipping,
            margin,
            least,
            round_to,
            deposit,
            changes,
            holds_days,
            studio,
            contact,
            included,
            json: _,
        } = typed;
        Self {
            yarn_per_kg,
            yarn_kg_per_m2,
            yarn_spare,
            cloth_per_m,
            roll_width,
            cloth_margin,
            bench_per_rug,
            bench_per_m2,
            mending,
            overhead,
            shipping,
            margin,
            least,
            round_to,
            deposit,
            changes,
            holds_days,
            studio,
            contact,
            included,
        }
    }
}

//! `convert`: the passes of one thread in another syntax.

use lexer::evidence::Family;
use lexer::section::PullOut;
use rules::rewrite::convert::{Target, convert};

use super::args::{Convert, Format};
use super::rewrite::{Asked, How};
use super::{Outcome, Streams};
use crate::show::convert as show;

pub(super) fn run(args: &Convert, streams: &mut Streams<'_>) -> Outcome {
    let asked = Asked::read(&args.path, &args.source, streams)?;
    let target = Target {
        family: args.system.map(Family::from),
        pull_out: args.pull_out.map(PullOut::TenthsOfLead),
    };
    let job = asked.job();
    let converted = match convert(&job, args.to, &target) {
        Ok(converted) => converted,
        Err(why) => {
            let what = format!("not written as {}", args.to.name());
            return asked.refuse(streams, &what, &why);
        }
    };
    let report = match args.format {
        Format::Text => show::text(asked.shown(), &job, args.to, &converted),
        Format::Json => show::json(asked.shown(), &job, args.to, &converted),
    };
    let how = How::of(args.diff, args.apply);
    if converted.reread.is_none() && how != How::Report {
        let why = "a block for another family of controls does not go into this program; leave out \
                   --diff and --apply to print it";
        return asked.refuse(streams, "not written", why);
    }
    asked.carry_out(streams, converted.reread.as_ref(), how, &report)
}

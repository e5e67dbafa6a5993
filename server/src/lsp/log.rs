//! Logging: to the standard error only, at the level of `FLANKWISE_LOG`, never with program text.

use tracing::Level;
use tracing_subscriber::filter::{EnvFilter, LevelFilter, filter_fn};
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{Layer, fmt};

/// Sets up the log of this process. A panic is logged by its place alone, because its message may
/// quote what was being read.
pub(super) fn to_stderr() {
    let wanted = EnvFilter::builder()
        .with_default_directive(LevelFilter::WARN.into())
        .with_env_var("FLANKWISE_LOG")
        .from_env_lossy();
    // The server library writes whole messages at its lowest level.
    let no_messages = filter_fn(|event| {
        !event.target().starts_with("tower_lsp") || *event.level() <= Level::INFO
    });
    let lines = fmt::layer()
        .with_writer(std::io::stderr)
        .with_ansi(false)
        .with_filter(no_messages);
    let _ = tracing_subscriber::registry()
        .with(lines)
        .with(wanted)
        .try_init();
    std::panic::set_hook(Box::new(|panic| match panic.location() {
        Some(place) => tracing::error!(%place, "panic"),
        None => tracing::error!("panic"),
    }));
}

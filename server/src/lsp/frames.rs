//! Messages on the wire: a header with `Content-Length`, an empty line, then that many bytes.
//!
//! The reader takes what clients really send (any letter case, bare LF, other headers) and, after
//! damage, looks for the next header instead of ending the session.

use std::io;

use serde::Serialize;
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::sync::mpsc::{self, UnboundedReceiver, UnboundedSender};

/// The longest body that is kept; a longer one is read past. Editors stop far below it.
const MAX_BODY: u64 = 1 << 29;
/// The longest header line.
const MAX_LINE: u64 = 1 << 12;

/// Reads bodies of messages.
#[derive(Debug)]
pub(super) struct Frames<I> {
    input: BufReader<I>,
    line: Vec<u8>,
}

/// What the reader came across.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Frame {
    /// The body of a message, never empty.
    Body(Vec<u8>),
    /// A body too long to keep; this many bytes were read past.
    TooLong(u64),
}

impl<I: AsyncRead + Unpin> Frames<I> {
    pub(super) fn new(input: I) -> Self {
        Self {
            input: BufReader::with_capacity(1 << 16, input),
            line: Vec::new(),
        }
    }

    /// The next message; `None` at the end of the input, also when it ends inside a message.
    pub(super) async fn next(&mut self) -> io::Result<Option<Frame>> {
        loop {
            let Some(length) = self.header().await? else {
                return Ok(None);
            };
            let mut body = (&mut self.input).take(length);
            if length > MAX_BODY {
                let read = tokio::io::copy(&mut body, &mut tokio::io::sink()).await?;
                return Ok((read == length).then_some(Frame::TooLong(length)));
            }
            let mut bytes = Vec::new();
            body.read_to_end(&mut bytes).await?;
            if (bytes.len() as u64) < length {
                tracing::warn!("the input ended inside a message");
                return Ok(None);
            }
            if !bytes.is_empty() {
                return Ok(Some(Frame::Body(bytes)));
            }
        }
    }

    /// The length of the body behind the next header.
    async fn header(&mut self) -> io::Result<Option<u64>> {
        let mut length = None;
        loop {
            self.line.clear();
            let mut line = (&mut self.input).take(MAX_LINE);
            if line.read_until(b'\n', &mut self.line).await? == 0 {
                return Ok(None);
            }
            if self.line.iter().all(u8::is_ascii_whitespace) {
                match length {
                    Some(length) => return Ok(Some(length)),
                    None => continue,
                }
            }
            match content_length(&self.line) {
                Some(found) => length = Some(found),
                None => tracing::debug!(bytes = self.line.len(), "skipped a header line"),
            }
        }
    }
}

/// The value of the last `Content-Length` on a line. Not only at its start: when a length before it
/// was too short, the rest of that body stands in front.
fn content_length(line: &[u8]) -> Option<u64> {
    const NAME: &[u8] = b"content-length";
    let lower = line.to_ascii_lowercase();
    let at = lower
        .windows(NAME.len())
        .rposition(|window| window == NAME)?;
    let value = lower[at + NAME.len()..]
        .trim_ascii_start()
        .strip_prefix(b":")?;
    std::str::from_utf8(value).ok()?.trim().parse().ok()
}

/// The way out. It takes everything at once and never waits for the client to read, so that a
/// client that writes without reading cannot bring the server to a stop.
#[derive(Clone, Debug)]
pub(super) struct Outbox(UnboundedSender<Vec<u8>>);

impl Outbox {
    /// An outbox, and what is put into it.
    pub(super) fn new() -> (Self, UnboundedReceiver<Vec<u8>>) {
        let (sender, receiver) = mpsc::unbounded_channel();
        (Self(sender), receiver)
    }

    /// Sends a message.
    pub(super) fn send(&self, message: &impl Serialize) {
        match serde_json::to_vec(message) {
            Ok(body) => {
                let mut bytes = format!("Content-Length: {}\r\n\r\n", body.len()).into_bytes();
                bytes.extend(body);
                let _ = self.0.send(bytes); // refused only when the client has gone
            }
            Err(error) => tracing::error!(%error, "a message could not be written"),
        }
    }
}

/// Writes what comes out of the outbox until every sender is gone or the client is.
pub(super) async fn write_all(
    mut messages: UnboundedReceiver<Vec<u8>>,
    mut output: impl AsyncWrite + Unpin,
) -> io::Result<()> {
    while let Some(message) = messages.recv().await {
        output.write_all(&message).await?;
        while let Ok(message) = messages.try_recv() {
            output.write_all(&message).await?;
        }
        output.flush().await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_message_that_is_too_long_is_read_past() {
        let long = MAX_BODY + 1;
        let header = format!("Content-Length: {long}\r\n\r\n");
        let input = header
            .as_bytes()
            .chain(tokio::io::repeat(b'x').take(long))
            .chain(b"Content-Length: 2\r\n\r\n{}".as_slice());
        let mut frames = Frames::new(input);
        assert_eq!(frames.next().await.unwrap(), Some(Frame::TooLong(long)));
        assert_eq!(
            frames.next().await.unwrap(),
            Some(Frame::Body(b"{}".to_vec()))
        );
        assert_eq!(frames.next().await.unwrap(), None);
    }
}

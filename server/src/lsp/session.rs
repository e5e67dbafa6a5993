//! The loop of a session: takes messages in, hands them to the server library's service, sends what
//! comes out.
//!
//! It stands in the place of the library's own loop (`Server`, 0.23.0), which ends the session at one
//! malformed message, polls every handler on one task, stops reading when the client stops, and keeps
//! a buffer as long as the longest message for good. Here each message is read once; each handler runs
//! up to its first wait in the order of the messages, and from there in a task of its own.

use std::future::poll_fn;
use std::pin::Pin;
use std::task::Poll;
use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use serde_json::Value;
use tokio::io::AsyncRead;
use tokio::task::JoinSet;
use tower_lsp::ClientSocket;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};
use tower_service::Service;

use super::frames::{Frame, Frames, Outbox};

/// Why the messages are over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum InputEnd {
    /// The client sent `exit`.
    Exit,
    /// The client closed its end.
    Closed,
}

/// Serves until `exit` or the end of the input. After the latter, answers in progress may take
/// `grace`.
pub(super) async fn serve<S>(
    input: impl AsyncRead + Unpin,
    outbox: Outbox,
    mut service: S,
    socket: ClientSocket,
    grace: Duration,
) -> InputEnd
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Send + Unpin + 'static,
    S::Error: Send,
{
    let (mut ours, mut answers) = socket.split();
    let mut unasked = JoinSet::new(); // one task; a set because it ends with its owner
    let out = outbox.clone();
    unasked.spawn(async move {
        while let Some(message) = ours.next().await {
            out.send(&message);
        }
    });
    let mut running = JoinSet::new();
    let mut frames = Frames::new(input);
    loop {
        while running.try_join_next().is_some() {}
        let request = match next(&mut frames).await {
            Some(Message::Request(request)) => request,
            Some(Message::Answer(answer)) => {
                let _ = answers.send(answer).await; // refused only after `exit`
                continue;
            }
            Some(Message::Refused(refusal)) => {
                outbox.send(&refusal);
                continue;
            }
            None => break,
        };
        let is_exit = request.method() == "exit";
        let ready = poll_fn(|context| service.poll_ready(context)).await;
        if ready.is_err() {
            return InputEnd::Exit; // the only reason that it has
        }
        let mut call = service.call(request);
        match poll_fn(|context| Poll::Ready(Pin::new(&mut call).poll(context))).await {
            Poll::Ready(answer) => send(&outbox, answer),
            Poll::Pending => {
                let out = outbox.clone();
                running.spawn(async move { send(&out, call.await) });
            }
        }
        if is_exit {
            return InputEnd::Exit;
        }
    }
    let rest = tokio::time::timeout(grace, async {
        while running.join_next().await.is_some() {}
    });
    if rest.await.is_err() {
        tracing::warn!("answers in progress were given up");
    }
    InputEnd::Closed
}

fn send<E>(outbox: &Outbox, answer: Result<Option<Response>, E>) {
    if let Ok(Some(answer)) = answer {
        outbox.send(&answer);
    }
}

enum Message {
    Request(Request),
    Answer(Response),
    Refused(Response),
}

/// The next message that is one, or the refusal of one that is not.
async fn next(frames: &mut Frames<impl AsyncRead + Unpin>) -> Option<Message> {
    loop {
        match frames.next().await {
            Ok(Some(Frame::Body(body))) => match read(&body) {
                Some(message) => return Some(message),
                None => tracing::warn!(bytes = body.len(), "dropped a malformed answer"),
            },
            Ok(Some(Frame::TooLong(bytes))) => {
                tracing::warn!(bytes, "read past a message that is too long");
                return Some(refuse(Id::Null, Error::invalid_request()));
            }
            Ok(None) => return None,
            Err(error) => {
                tracing::warn!(%error, "the input broke");
                return None;
            }
        }
    }
}

/// Reads a message. `None` for a malformed answer: to answer that would be to answer an answer.
fn read(body: &[u8]) -> Option<Message> {
    if let Ok(request) = serde_json::from_slice::<Request>(body)
        && !request.method().is_empty()
    {
        return Some(Message::Request(request));
    }
    if let Ok(answer) = serde_json::from_slice::<Response>(body) {
        return Some(Message::Answer(answer));
    }
    match serde_json::from_slice::<Value>(body) {
        Err(_) => Some(refuse(Id::Null, Error::parse_error())),
        Ok(message) if message.get("result").or(message.get("error")).is_some() => None,
        Ok(mut message) => {
            let id = message.get_mut("id").map(Value::take).unwrap_or_default();
            let id = serde_json::from_value(id).unwrap_or_default();
            Some(refuse(id, Error::invalid_request()))
        }
    }
}

fn refuse(id: Id, error: Error) -> Message {
    tracing::warn!(code = error.code.code(), "refused a malformed message");
    Message::Refused(Response::from_error(id, error))
}

//! What stands between the client and the server library, because the library (0.23.0, measured)
//! ends the session at one malformed message, and at a panic in a handler.
//!
//! `relay` lets only messages through that the library can read and answers the others itself;
//! `Guarded` turns a panic into an error answer; `watch_parent` notices an editor that died without
//! closing anything.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use serde_json::{Value, json};
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt};
use tower_lsp::jsonrpc::{Error, ErrorCode, Request, Response};
use tower_service::Service;

use super::frames::{self, Frame, Frames, Outbox};

/// Why the input is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum InputEnd {
    /// The client sent `exit`.
    Exit,
    /// The client closed its end.
    Closed,
}

/// Passes messages on until `exit` or the end of the input.
pub(super) async fn relay(
    input: impl AsyncRead + Unpin,
    mut server: impl AsyncWrite + Unpin,
    answers: Outbox,
) -> InputEnd {
    let mut frames = Frames::new(input);
    loop {
        let body = match frames.next().await {
            Ok(Some(Frame::Body(body))) => body,
            Ok(Some(Frame::TooLong(bytes))) => {
                tracing::warn!(bytes, "read past a message that is too long");
                answers.send(&refusal(ErrorCode::InvalidRequest, Value::Null));
                continue;
            }
            Ok(None) => return InputEnd::Closed,
            Err(error) => {
                tracing::warn!(%error, "the input broke");
                return InputEnd::Closed;
            }
        };
        let is_exit = match judge(&body) {
            Verdict::Pass { is_exit } => is_exit,
            Verdict::Refuse(answer) => {
                tracing::warn!(bytes = body.len(), "refused a malformed message");
                answers.send(&answer);
                continue;
            }
            Verdict::Drop => {
                tracing::warn!(bytes = body.len(), "dropped a malformed answer");
                continue;
            }
        };
        if server.write_all(&frames::frame(&body)).await.is_err() {
            return InputEnd::Closed; // the server has ended by itself
        }
        if is_exit {
            return InputEnd::Exit;
        }
    }
}

enum Verdict {
    Pass { is_exit: bool },
    Refuse(Vec<u8>),
    Drop,
}

/// Reads a message with the library's own types, so that what passes here is read there too.
fn judge(body: &[u8]) -> Verdict {
    let Ok(body) = std::str::from_utf8(body) else {
        return Verdict::Refuse(refusal(ErrorCode::ParseError, Value::Null));
    };
    if let Ok(request) = serde_json::from_str::<Request>(body)
        && !request.method().is_empty()
    {
        return Verdict::Pass {
            is_exit: request.method() == "exit" && request.id().is_none(),
        };
    }
    if serde_json::from_str::<Response>(body).is_ok() {
        return Verdict::Pass { is_exit: false };
    }
    match serde_json::from_str::<Value>(body) {
        Err(_) => Verdict::Refuse(refusal(ErrorCode::ParseError, Value::Null)),
        Ok(message) if message.get("result").or(message.get("error")).is_some() => Verdict::Drop,
        Ok(mut message) => {
            let id = message.get_mut("id").map(Value::take).unwrap_or_default();
            let id = if id.is_string() || id.is_i64() {
                id
            } else {
                Value::Null
            };
            Verdict::Refuse(refusal(ErrorCode::InvalidRequest, id))
        }
    }
}

fn refusal(code: ErrorCode, id: Value) -> Vec<u8> {
    let error = json!({"code": code.code(), "message": code.description()});
    json!({"jsonrpc": "2.0", "id": id, "error": error})
        .to_string()
        .into_bytes()
}

/// The server library's service, with panics caught.
#[derive(Debug)]
pub(super) struct Guarded<S>(pub(super) S);

type Answer<E> = Pin<Box<dyn Future<Output = Result<Option<Response>, E>> + Send>>;

impl<S> Service<Request> for Guarded<S>
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = Option<Response>;
    type Error = S::Error;
    type Future = Answer<S::Error>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.0.poll_ready(context)
    }

    fn call(&mut self, request: Request) -> Self::Future {
        let request = without_roots(request);
        let mut id = request.id().cloned();
        let method = request.method().to_owned();
        let mut answer = Box::pin(self.0.call(request));
        Box::pin(std::future::poll_fn(move |context| {
            let poll = AssertUnwindSafe(|| answer.as_mut().poll(context));
            catch_unwind(poll).unwrap_or_else(|_| {
                tracing::error!(method, "a handler panicked");
                let refuse = |id| Response::from_error(id, Error::internal_error());
                Poll::Ready(Ok(id.take().map(refuse)))
            })
        }))
    }
}

/// Leaves the roots out of `initialize`. Nothing here uses them (the configuration is looked for
/// upwards from each program), so a root that is no valid URI shall not keep anyone out.
fn without_roots(request: Request) -> Request {
    if request.method() != "initialize" {
        return request;
    }
    let (method, id, params) = request.into_parts();
    let mut params = params.unwrap_or_default();
    if let Some(params) = params.as_object_mut() {
        params
            .retain(|key, _| !matches!(key.as_str(), "rootUri" | "rootPath" | "workspaceFolders"));
    }
    let request = Request::build(method).params(params);
    match id {
        Some(id) => request.id(id).finish(),
        None => request.finish(),
    }
}

/// Waits until a process is gone. Never returns where that cannot be told without `unsafe` (outside
/// Linux) or the process cannot be seen from here in the first place (another container): there the
/// end of the input is the sign.
pub(super) async fn watch_parent(process: u32, every: Duration) {
    if !is_alive(process) {
        return std::future::pending().await;
    }
    while is_alive(process) {
        tokio::time::sleep(every).await;
    }
}

#[cfg(target_os = "linux")]
fn is_alive(process: u32) -> bool {
    match std::fs::read_to_string(format!("/proc/{process}/stat")) {
        // "pid (name) state …"; the name may hold anything, so look behind the last bracket
        Ok(stat) => !stat
            .rsplit(") ")
            .next()
            .is_some_and(|rest| rest.starts_with(['Z', 'X'])),
        Err(error) => error.kind() != std::io::ErrorKind::NotFound,
    }
}

#[cfg(not(target_os = "linux"))]
fn is_alive(_: u32) -> bool {
    false
}

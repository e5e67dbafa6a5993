//! What the session is protected from: a panic in a handler, roots that are no URI, and an editor
//! that died without closing anything.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tower_lsp::jsonrpc::{Error, Request, Response};
use tower_service::Service;

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

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    /// A service that panics, before or after its first wait, when asked to.
    struct Touchy;

    impl Service<Request> for Touchy {
        type Response = Option<Response>;
        type Error = ();
        type Future = Answer<()>;

        fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), ()>> {
            Poll::Ready(Ok(()))
        }

        fn call(&mut self, request: Request) -> Answer<()> {
            Box::pin(async move {
                assert_ne!(request.method(), "panic");
                tokio::task::yield_now().await;
                assert_ne!(request.method(), "panic later");
                Ok(request
                    .id()
                    .map(|id| Response::from_ok(id.clone(), Value::Null)))
            })
        }
    }

    #[tokio::test]
    async fn a_panic_in_a_handler_is_an_error_answer() {
        let mut service = Guarded(Touchy);
        for method in ["panic", "panic later"] {
            let request = Request::build(method).id(7).finish();
            let answer = service
                .call(request)
                .await
                .expect("an end")
                .expect("an answer");
            assert_eq!(
                (answer.id(), answer.error()),
                (&7.into(), Some(&Error::internal_error()))
            );
            let notification = Request::build(method).finish();
            assert_eq!(service.call(notification).await, Ok(None));
        }
        let answer = service.call(Request::build("calm").id(8).finish()).await;
        assert_eq!(answer, Ok(Some(Response::from_ok(8.into(), Value::Null))));
    }

    #[test]
    fn roots_are_left_out_and_nothing_else() {
        let params = json!({"processId": 1, "rootUri": "", "workspaceFolders": 5, "locale": "de"});
        let request = Request::build("initialize")
            .params(params.clone())
            .id(1)
            .finish();
        let kept = without_roots(request);
        assert_eq!(
            kept.params(),
            Some(&json!({"processId": 1, "locale": "de"}))
        );
        assert_eq!((kept.method(), kept.id()), ("initialize", Some(&1.into())));
        let other = Request::build("workspace/symbol").params(params).finish();
        assert_eq!(without_roots(other.clone()), other);
    }
}

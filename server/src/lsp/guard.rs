//! What the session is protected from: a panic in a handler, names that are no URI, and an editor
//! that died without closing anything.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use serde_json::{Map, Value, json};
use tower_lsp::jsonrpc::{Error, Request, Response};
use tower_lsp::ls_types::Uri;
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
        let request = with_valid_names(request);
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

/// Keeps the roots that can be read; the rest of the message does not depend on them.
fn mend_roots(params: &mut Map<String, Value>) {
    let root = params.remove("rootUri").and_then(valid_uri);
    params.remove("rootPath");
    let folders = match params.remove("workspaceFolders") {
        Some(Value::Array(folders)) => folders,
        _ => Vec::new(),
    };
    let folders: Vec<Value> = folders
        .into_iter()
        .filter_map(|mut folder| {
            let uri = valid_uri(folder.get_mut("uri")?.take())?;
            let name = folder.get("name").and_then(Value::as_str).unwrap_or("");
            Some(json!({"uri": uri, "name": name}))
        })
        .collect();
    if !folders.is_empty() {
        params.insert("workspaceFolders".to_owned(), folders.into());
    }
    if let Some(root) = root {
        params.insert("rootUri".to_owned(), root.into());
    }
}

fn valid_uri(value: Value) -> Option<String> {
    let uri = value.as_str().filter(|uri| !uri.is_empty())?;
    let uri = match uri.parse::<Uri>() {
        Ok(_) => uri.to_owned(),
        Err(_) => percent_encoded(uri),
    };
    uri.parse::<Uri>().is_ok().then_some(uri)
}

/// Mends names that some clients send and that the library would refuse the whole message for.
///
/// A root that is none is left out of `initialize`; one with a name that is no URI is encoded. What
/// a document's name may not contain is percent-encoded; we call the document by that name then.
fn with_valid_names(request: Request) -> Request {
    let (method, id, mut params) = request.into_parts();
    let object = params.as_mut().and_then(Value::as_object_mut);
    match object {
        Some(params) if method == "initialize" => mend_roots(params),
        Some(params) => {
            let document = params.get_mut("textDocument");
            if let Some(Value::String(uri)) = document.and_then(|it| it.get_mut("uri"))
                && uri.parse::<Uri>().is_err()
            {
                tracing::warn!("a document's name is no URI; it is percent-encoded");
                *uri = percent_encoded(uri);
            }
        }
        None => {}
    }
    let mut request = Request::build(method);
    if let Some(params) = params {
        request = request.params(params);
    }
    match id {
        Some(id) => request.id(id).finish(),
        None => request.finish(),
    }
}

/// Encodes every byte that RFC 3986 allows nowhere in the path of a URI, leaving what is encoded.
fn percent_encoded(uri: &str) -> String {
    let bytes = uri.as_bytes();
    let is_hex = |at| bytes.get(at).is_some_and(u8::is_ascii_hexdigit);
    let mut encoded = String::with_capacity(uri.len());
    for (at, &byte) in bytes.iter().enumerate() {
        let is_encoded = byte == b'%' && is_hex(at + 1) && is_hex(at + 2);
        if byte.is_ascii_alphanumeric() || b"-._~:/?#@!$&'()*+,;=".contains(&byte) || is_encoded {
            encoded.push(char::from(byte));
        } else {
            encoded.push_str(&format!("%{byte:02X}"));
        }
    }
    encoded
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

    fn mended(method: &'static str, params: Value) -> Value {
        let request = Request::build(method).params(params).id(1).finish();
        let mended = with_valid_names(request);
        assert_eq!((mended.method(), mended.id()), (method, Some(&1.into())));
        mended.params().cloned().unwrap_or_default()
    }

    #[test]
    fn roots_that_are_none_are_left_out_of_initialize_alone() {
        let params = json!({"processId": 1, "rootUri": "", "workspaceFolders": 5, "locale": "de"});
        let kept = json!({"processId": 1, "locale": "de"});
        assert_eq!(mended("initialize", params.clone()), kept);
        assert_eq!(mended("workspace/symbol", params.clone()), params);
    }

    #[test]
    fn roots_that_can_be_read_are_kept() {
        let params = json!({
            "rootPath": "/shop", "rootUri": "file:///shop",
            "workspaceFolders": [{"uri": "file:///lathe 2", "name": "lathe 2"}, 5, {"name": "none"}],
        });
        let kept = json!({
            "rootUri": "file:///shop",
            "workspaceFolders": [{"uri": "file:///lathe%202", "name": "lathe 2"}],
        });
        assert_eq!(mended("initialize", params), kept);
    }

    #[test]
    fn names_are_encoded_when_they_are_no_uri() {
        let of = |uri: &str| json!({"textDocument": {"uri": uri}, "position": 0});
        let cases = [
            ("file:///shop/a.nc", "file:///shop/a.nc"),
            ("file:///c%3A/shop/a%20b.nc", "file:///c%3A/shop/a%20b.nc"),
            (
                "file:///shop/gehäuse [2].nc",
                "file:///shop/geh%C3%A4use%20%5B2%5D.nc",
            ),
            ("file:///100%/a%20b c.nc", "file:///100%25/a%20b%20c.nc"),
            ("file:///C:\\shop\\a.nc", "file:///C:%5Cshop%5Ca.nc"),
        ];
        for (sent, kept) in cases {
            assert_eq!(mended("textDocument/hover", of(sent)), of(kept));
            assert!(kept.parse::<Uri>().is_ok());
        }
        let odd = json!({"textDocument": 5});
        assert_eq!(mended("textDocument/hover", odd.clone()), odd);
        let bare = Request::build("shutdown").id(2).finish();
        assert_eq!(with_valid_names(bare.clone()), bare);
    }
}

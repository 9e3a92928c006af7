// One request to the office and what came of it. Whatever is not the office's own JSON, such as the page of a hotel's
// network, counts as no answer.

const PATIENCE_MS = 60_000;
const PATIENCE_WITH_FILE_MS = 300_000;

/** @returns {Promise<{status: number, json: *, retryAfter: number}>} status 0 where nobody answered */
export async function ask(address, { method = "GET", body, csrf, version, patience, key } = {}) {
  const headers = { Accept: "application/json" };
  if (csrf) headers["X-CSRFToken"] = csrf;
  if (version) headers["X-Field-App"] = version;
  // Of an act without an id of its own: done once, however often it is sent.
  if (key) headers["Idempotency-Key"] = key;
  const form = body instanceof FormData;
  const bytes = body instanceof Blob;
  if (bytes) headers["Content-Type"] = "application/octet-stream";
  else if (body !== undefined && !form) headers["Content-Type"] = "application/json";
  const enough = new AbortController();
  const timer = setTimeout(() => enough.abort(), patience || (form || bytes ? PATIENCE_WITH_FILE_MS : PATIENCE_MS));
  try {
    const answer = await fetch(address, {
      method, headers, body, credentials: "same-origin", redirect: "error", cache: "no-store", signal: enough.signal,
    });
    const type = (answer.headers.get("Content-Type") || "").split(";")[0].trim();
    const retryAfter = Number(answer.headers.get("Retry-After")) || 0;
    if (answer.status === 204) return { status: 204, json: null, retryAfter };
    if (!/^application\/(\w+\+)?json$/.test(type)) return none(retryAfter);
    return { status: answer.status, json: await answer.json(), retryAfter };
  } catch {
    return none(0);
  } finally {
    clearTimeout(timer);
  }
}

const none = (retryAfter) => ({ status: 0, json: null, retryAfter });

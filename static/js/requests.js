/** What every request to our own server needs: the token against forgery, and its answers as sentences. */

export const SIGNED_OUT =
  "You have been signed out. Sign in again in another tab, then press Resume; nothing is lost.";
const BROKEN = "Something broke on our side. What has arrived is kept; please try again in a few minutes.";

/** A "no" with a sentence for the person at the screen. */
export class Refusal extends Error {}

/** The cookie comes first: it changes at sign-in, also in another tab, while this page keeps its old copy. */
export function csrfToken() {
  const cookie = document.cookie.split("; ").find((pair) => pair.startsWith("csrftoken="));
  if (cookie) return decodeURIComponent(cookie.slice("csrftoken=".length));
  return document.querySelector('meta[name="csrf-token"]').content;
}

/** Our server's own refusals are plain text; a 403 that is not comes from the check against forgery, after a new sign-in. */
export function isSignedOut(status, contentType) {
  return status === 401 || (status === 403 && !isPlain(contentType));
}

/** The sentence to show for an answer that is not a success. Bodies of type text/plain are sentences already. */
export function sentenceFor(status, contentType, body) {
  if (isSignedOut(status, contentType)) return SIGNED_OUT;
  const text = (body ?? "").trim();
  return isPlain(contentType) && text ? text : BROKEN;
}

function isPlain(contentType) {
  return (contentType ?? "").startsWith("text/plain");
}

/** POST a form to our server. Raises Refusal with a sentence for any answer but success. */
export async function postForm(url, fields) {
  const response = await fetch(url, {
    method: "POST",
    body: new URLSearchParams(fields),
    headers: { "X-CSRFToken": csrfToken() },
    redirect: "manual",
  });
  if (response.ok) return;
  if (response.type === "opaqueredirect") throw new Refusal(SIGNED_OUT);
  throw new Refusal(sentenceFor(response.status, response.headers.get("Content-Type"), await response.text()));
}

/** What every request to our own server needs: the token against forgery, and its answers as sentences. */

export const SIGNED_OUT =
  "You have been signed out. What has arrived is kept. Sign in again in another tab, and it goes on from there.";
const SOMEBODY_ELSE =
  "Somebody else is signed in in this browser now, so this waits. What has arrived is kept. Sign in again as yourself, and it goes on from there.";
const BROKEN = "Something broke on our side. What has arrived is kept; please try again in a few minutes.";

/** A "no" with a sentence for the person at the screen. */
export class Refusal extends Error {}

/** It can go on as soon as the person who began it has signed in again. */
export class SignInNeeded extends Refusal {}

/** Who was signed in when this page was drawn: the server refuses what somebody else's sign-in would send. */
export function account() {
  return document.body.dataset.account ?? "";
}

/** The cookie comes first: it changes at sign-in, also in another tab, while this page keeps its old copy. */
export function csrfToken() {
  const cookie = document.cookie.split("; ").find((pair) => pair.startsWith("csrftoken="));
  if (cookie) return decodeURIComponent(cookie.slice("csrftoken=".length));
  return document.querySelector('meta[name="csrf-token"]').content;
}

/** Our server's own refusals are plain text; a 403 that is not comes from the check against forgery, after a new sign-in. */
function isSignedOut(status, contentType) {
  return status === 401 || (status === 403 && !isPlain(contentType));
}

/** Raises SignInNeeded where an answer means that nobody, or somebody else, is signed in. `header` gives a header by name. */
export function refuseUnlessOurs(status, header) {
  if (header("X-Account-Differs")) throw new SignInNeeded(SOMEBODY_ELSE);
  if (isSignedOut(status, header("Content-Type"))) throw new SignInNeeded(SIGNED_OUT);
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

/** POST a form to our server and return its answer. Raises Refusal with a sentence for any answer but success. */
export async function postForm(url, fields) {
  const response = await fetch(url, {
    method: "POST",
    body: new URLSearchParams(fields),
    headers: { "X-CSRFToken": csrfToken(), "X-Account": account() },
    redirect: "manual",
  });
  await refuseUnlessGood(response);
  return response;
}

/** GET an answer in JSON. Raises Refusal with a sentence, or TypeError where the network is gone. */
export async function getJson(url) {
  const response = await fetch(url, { headers: { "X-Account": account() }, redirect: "manual" });
  await refuseUnlessGood(response);
  return response.json();
}

async function refuseUnlessGood(response) {
  if (response.ok) return;
  if (response.type === "opaqueredirect") throw new SignInNeeded(SIGNED_OUT);
  const header = (name) => response.headers.get(name);
  refuseUnlessOurs(response.status, header);
  throw new Refusal(sentenceFor(response.status, header("Content-Type"), await response.text()));
}

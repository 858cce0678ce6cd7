// Talking to the service, by the names of its routes. Nothing counts as recorded before its answer
// says so.

import { ADDRESSES } from "./addresses.js";

const PATIENCE_MS = 5000;

export class NoAnswer extends Error {}

export class Refusal extends Error {
  constructor(status, error) {
    super(error?.message ?? "");
    this.status = status;
    this.code = error?.code ?? "";
  }
}

// Posts an object (or a picture) and gives the answer's object. Throws NoAnswer where none came
// in time, Refusal where the service said no.
export async function post(route, body, { patience = PATIENCE_MS, headers = {}, query = null } = {}) {
  const isPicture = body instanceof Blob;
  const path = query ? `${ADDRESSES[route]}?${new URLSearchParams(query)}` : ADDRESSES[route];
  return ask(path, patience, {
    method: "POST",
    headers: {
      "Content-Type": isPicture ? body.type : "application/json",
      "X-Counterfoil": "page",
      ...headers,
    },
    body: isPicture ? body : JSON.stringify(body),
  });
}

export async function get(route, { query = {}, headers = {} } = {}) {
  const path = `${ADDRESSES[route]}?${new URLSearchParams(query)}`;
  return ask(path, PATIENCE_MS, { headers: { "X-Counterfoil": "page", ...headers } });
}

async function ask(path, patience, options) {
  let response;
  let found;
  try {
    response = await fetch(path, {
      credentials: "same-origin",
      cache: "no-store",
      signal: AbortSignal.timeout(patience),
      ...options,
    });
    found = await response.json();
  } catch {
    throw new NoAnswer();
  }
  if (!response.ok) throw new Refusal(response.status, found.error);
  return found;
}

// A name for one piece that no other piece has, on this machine or another.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

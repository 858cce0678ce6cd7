// The page's words: one file a language, none in the code.

import { ADDRESSES } from "./addresses.js";

export const LANGUAGES = ["en", "es", "fr"];

let words = {};
let fallback = {};

export async function load(language) {
  const response = await fetch(ADDRESSES.texts.replace("{name}", `${language}.json`), { credentials: "same-origin" });
  if (!response.ok) throw new Error(`texts ${response.status}`);
  words = await response.json();
  if (language === "en") fallback = words;
  document.documentElement.lang = language;
  for (const node of document.querySelectorAll("[data-text]")) {
    node.textContent = say(node.dataset.text);
  }
  for (const node of document.querySelectorAll("[data-name]")) {
    node.setAttribute("aria-label", say(node.dataset.name));
  }
}

// The text at a dotted path with its {names} filled in. A text that counts has a form for each
// plural of its language (Unicode CLDR, by Intl.PluralRules), chosen by `n`.
export function say(path, values = {}) {
  const entry = at(words, path) ?? at(fallback, path) ?? "";
  const found = typeof entry === "string" ? entry : (entry[plural(values.n)] ?? entry.other);
  return found.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? "");
}

function plural(n) {
  return new Intl.PluralRules(document.documentElement.lang).select(Number(n));
}

// What a finding says in this language; its own English sentence where it has no text here.
export function finding(one) {
  return ofCode(one.code) ?? one.message;
}

// The same where only its code is known.
export function findingOf(code) {
  return ofCode(code) ?? code;
}

// "label-length" has a text of its own, or is what "length" says, of the label.
function ofCode(code) {
  const own = words.findings?.[code];
  if (own) return own;
  const [, side, rest] = /^(label|card|box|unplaced)-(.+)$/.exec(code) ?? [];
  const general = words.findings?.[rest];
  return general && words.sides[side] ? `${words.sides[side]}: ${general}` : undefined;
}

function at(tree, path) {
  return path.split(".").reduce((node, name) => node?.[name], tree);
}

// The language to begin with: as asked in the address, as chosen before, as the service was
// started with, as the browser's.
export function preferred(started) {
  const asked = new URLSearchParams(location.search).get("lang");
  const spoken = navigator.languages.map((name) => name.slice(0, 2));
  const wishes = [asked, kept("language"), started, ...spoken, "en"];
  return wishes.find((name) => LANGUAGES.includes(name));
}

export function kept(name) {
  try {
    return localStorage.getItem(`counterfoil.${name}`);
  } catch {
    return null;
  }
}

export function keep(name, value) {
  try {
    localStorage.setItem(`counterfoil.${name}`, value);
  } catch {
    // A browser that keeps nothing asks again next time.
  }
}

// The access token, asked for once on each machine.

import { ADDRESSES } from "./addresses.js";
import { setPreferences } from "./preferences.js";
import { $ } from "./nodes.js";
import { Refusal, post } from "./service.js";
import { say } from "./texts.js";

async function enter(event) {
  event.preventDefault();
  try {
    await post("enter", { token: $("token").value.trim() });
    location.replace(ADDRESSES.kiosk);
  } catch (problem) {
    const isSlow = problem instanceof Refusal && problem.status === 429;
    $("no").textContent = say(isSlow ? "enter.slow" : "enter.wrong");
    $("token").focus();
  }
}

$("enter").addEventListener("submit", enter);
await setPreferences("");
document.title = `Counterfoil: ${say("enter.title")}`;
$("token").focus();
document.body.dataset.ready = "yes";
